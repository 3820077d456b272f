// Draw at little cost: what is seen through is blended from far to near in one go; where no card draws, a picture has half
// the resolution while something in it moves or is held, and always all of it once that has rested.
(() => {
  const rest = 300; // a picture in which nothing moved for this long is drawn finely [ms]
  const coarse = 0.5; // of the full width and height, while something moves
  const wide = 1.6; // times its height the server takes a picture to be wide, at least (viewer/sights.py)
  const drawings = () => Object.values(window.trame.refs).map((one) => one && one.$ && one.$.provides.view)
    .filter((one) => one && one.renderWindow);
  const seen = () => drawings().filter((view) => view.container && view.container.offsetParent);

  const drawnBy = () => {
    const probe = document.createElement('canvas').getContext('webgl2');
    const told = probe && probe.getExtension('WEBGL_debug_renderer_info');
    const name = told ? String(probe.getParameter(told.UNMASKED_RENDERER_WEBGL)) : '';
    if (probe && probe.getExtension('WEBGL_lose_context')) probe.getExtension('WEBGL_lose_context').loseContext();
    return name;
  };
  const noCard = /SwiftShader|llvmpipe|softpipe|Basic Render/i.test(drawnBy());
  if (noCard) { // edges are left unsmoothed: a picture takes about half as long
    const make = HTMLCanvasElement.prototype.getContext;
    HTMLCanvasElement.prototype.getContext = function context(kind, how) {
      return make.call(this, kind, /^webgl/.test(kind) ? { ...how, antialias: false } : how);
    };
  }

  // The drawing library blends in any order by two more targets of floating point: three times the work without a card.
  const farthest = (actor, eye) => {
    const [x0, x1, y0, y1, z0, z1] = actor.getBounds();
    return [[x0, x1], [y0, y1], [z0, z1]]
      .reduce((sum, ends, axis) => sum + Math.max(...ends.map((end) => (end - eye[axis]) ** 2)), 0);
  };
  const blendInOrder = () => {
    let doing = '';
    const pass = {
      getOperation: () => doing,
      getTraverseOperation: () => `traverse${doing[0].toUpperCase()}${doing.slice(1)}`,
      getShaderReplacement: () => null,
      requestDepth() {},
      traverse(screen) {
        const go = (what, node) => { doing = what; node.traverse(pass); };
        go('buildPass', screen);
        for (const renderer of screen.getRenderable().getRenderersByReference()) {
          if (!renderer.getDraw()) continue;
          const eye = renderer.getActiveCamera().getPosition();
          go('cameraPass', screen.getViewNodeFor(renderer));
          go('opaquePass', screen.getViewNodeFor(renderer));
          renderer.getActors().filter((one) => one.getVisibility() && !one.getIsOpaque())
            .map((one) => [farthest(one, eye), one]).sort((one, other) => other[0] - one[0])
            .forEach(([, one]) => go('translucentPass', screen.getViewNodeFor(one)));
        }
      },
    };
    return pass;
  };

  const size = (view, share) => {
    const { width, height } = view.container.getBoundingClientRect();
    const scale = window.devicePixelRatio || 1;
    const wanted = [width, height].map((one) => Math.max(10, Math.floor(share * Math.floor(one * scale))));
    const [w, h] = view.openglRenderWindow.getSize();
    if (w === wanted[0] && h === wanted[1]) return false;
    view.openglRenderWindow.setSize(...wanted);
    return true;
  };
  const held = new Set(); // pointers down on the picture, placed by its points: they stay as large meanwhile
  let resting = null;
  const rests = () => {
    if (held.size) { resting = setTimeout(rests, rest); return; }
    resting = null;
    for (const view of seen()) if (size(view, 1)) view.renderWindow.render();
  };
  const moves = () => {
    if (!noCard) return;
    for (const view of seen()) size(view, coarse);
    clearTimeout(resting);
    resting = setTimeout(rests, rest);
  };
  document.addEventListener('pointerdown', ({ target, pointerId }) => { // before where it is pressed is read
    if (!target.closest('.pictures')) return;
    held.add(pointerId);
    moves();
  }, true);
  for (const end of ['pointerup', 'pointercancel']) {
    document.addEventListener(end, ({ pointerId }) => { held.delete(pointerId); }, true);
  }

  const widened = (view, angle) => { // a picture that is narrower shows as much to both sides, and more above and below
    const { width, height } = view.container.getBoundingClientRect();
    const more = width ? Math.max(1, (wide * height) / width) : 1;
    return (360 / Math.PI) * Math.atan(more * Math.tan((angle * Math.PI) / 360));
  };
  const begun = (view) => { // the camera of the first scene comes with it
    const camera = view.renderer && view.renderer.getActiveCamera();
    if (!camera) return;
    camera.setViewAngle(widened(view, camera.getViewAngle()));
    view.renderWindow.render();
  };

  const tame = (view) => {
    const screen = view.openglRenderWindow;
    const [usual, mine] = [screen.getRenderPasses(), [blendInOrder()]];
    const pick = view.pick.bind(view);
    screen.setRenderPasses(mine);
    view.pick = (...area) => { // looking up what a click meets needs the depths that the usual pass keeps
      screen.setRenderPasses(usual);
      try { return pick(...area); } finally { screen.setRenderPasses(mine); }
    };
    const look = view.setCamera.bind(view); // from another picture it comes with its centre, and as wide as it is there
    view.setCamera = (camera) => look(
      camera.centerOfRotation ? camera : { ...camera, viewAngle: widened(view, camera.viewAngle) });
    view.interactor.onStartAnimation(moves);
    view.interactor.onAnimation(moves);
  };
  window.boatDrawing = { drawings, tame, begun, moves, still: () => resting === null };
})();
