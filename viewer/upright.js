// Up stays up: the camera goes round the boat's upright axis and stops short of straight above and straight below her.
(() => {
  const steepest = (88 * Math.PI) / 180; // that the camera looks down or up (viewer/looking.py)
  const dot = (one, other) => one.reduce((sum, part, axis) => sum + part * other[axis], 0);
  const cross = ([a, b, c], [x, y, z]) => [b * z - c * y, c * x - a * z, a * y - b * x];
  const sum = (lengths, ways) => [0, 1, 2].map((axis) => lengths.reduce((all, one, n) => all + one * ways[n][axis], 0));

  const clamp = (view) => {
    const camera = view.renderer.getActiveCamera();
    const [look, up] = [camera.getDirectionOfProjection(), camera.getViewUp()];
    const right = cross(look, up);
    const ahead = cross([0, 0, 1], right); // over the level, as it points still when she is seen from past the pole
    const dip = Math.atan2(-look[2], dot(look, ahead));
    if (Math.abs(dip) <= steepest) return;
    const kept = Math.sign(dip) * steepest;
    const dipped = (angle) => sum([Math.cos(angle), -Math.sin(angle)], [ahead, [0, 0, 1]]);
    const ways = [right, dipped(kept), dipped(kept - Math.PI / 2)];
    const turned = (way) => sum([right, look, up].map((one) => dot(one, way)), ways);
    const middle = view.style.getCenterOfRotation();
    const carried = (point) => sum([1, 1], [middle, turned(sum([1, -1], [point, middle]))]);
    const [position, focalPoint] = [camera.getPosition(), camera.getFocalPoint()].map(carried);
    camera.set({ position, focalPoint, viewUp: turned(up) });
    view.renderer.resetCameraClippingRange();
  };

  window.boatUpright = (view) => {
    const { style } = view;
    const { mouseManipulators, gestureManipulators } = style.get('mouseManipulators', 'gestureManipulators');
    for (const one of [...mouseManipulators]) {
      if (one.isA('vtkMouseCameraTrackballRollManipulator')) style.removeMouseManipulator(one);
      if (one.isA('vtkMouseCameraTrackballRotateManipulator')) one.set({ useWorldUpVec: true, worldUpVec: [0, 0, 1] });
    }
    for (const one of gestureManipulators) one.setRotateEnabled(false);
    style.onInteractionEvent(() => clamp(view));
  };
})();
