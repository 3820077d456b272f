// Move, hide and colour what is drawn already, without asking for the scene again; take scenes one after the other.
(() => {
  const patience = 8000; // a scene whose arrays never come holds up the next no longer than this [ms]
  const wait = (ms) => new Promise((done) => setTimeout(done, ms));
  const frame = () => new Promise((done) => { requestAnimationFrame(done); setTimeout(done, 250); });
  const { drawings, moves } = window.boatDrawing;
  let queue = Promise.resolve();
  let gathering = null; // what moves until the next frame or scene; the last of each counts
  let waiting = 0; // how many are still in the queue
  const inTurn = (work) => {
    waiting += 1;
    queue = queue.then(work).catch((fault) => console.warn(fault)).finally(() => { waiting -= 1; });
    return queue;
  };

  // The connection's own way reads each message out of another process, milliseconds each, and not always in their order.
  const send = WebSocket.prototype.send;
  WebSocket.prototype.send = function sent(message) {
    if (this.binaryType === 'blob' && this.onmessage) {
      const usual = this.onmessage;
      const part = (bytes) => ({ slice: (...ends) => part(bytes.slice(...ends)), arrayBuffer: async () => bytes });
      this.binaryType = 'arraybuffer';
      this.onmessage = ({ data }) => usual.call(this, { data: data instanceof ArrayBuffer ? part(data) : data });
    }
    return send.call(this, message);
  };

  // The first scene is taken before anything here is: what moves meanwhile waits for it, and what moved before is asked for.
  const first = async (view) => {
    for (let waited = 0; view.busy.count > 0 && waited < patience; waited += 20) await wait(20);
    window.boatDrawing.begun(view);
    window.trame.trigger('drawn');
  };

  // Two scenes that come at once would be put together in one another's half-done state.
  const tame = (view) => {
    if (view.tamed) return;
    view.tamed = true;
    window.boatDrawing.tame(view);
    window.boatUpright(view);
    inTurn(() => first(view));
    const take = view.updateViewState.bind(view);
    // Moves that come more than 200 ms apart, where a picture takes that long, are begun anew each time: turn by them too.
    view.interactor.onStartMouseMove((move) => view.style.handleMouseMove(move));
    view.updateViewState = (state) => {
      gathering = null; // what comes after this scene is put on after it
      return inTurn(() => {
        if (view.renderer) moves();
        return Promise.race([take(state), wait(patience)]);
      });
    };
  };

  const put = (view, id, change) => {
    const actor = view.ctx.getInstance(id);
    if (!actor || !actor.getMapper) return;
    if (change.position) actor.setPosition(...change.position);
    if (change.orientation) actor.setOrientation(...change.orientation);
    if (change.visible !== undefined) actor.setVisibility(change.visible);
    const mesh = actor.getMapper() && actor.getMapper().getInputData();
    if (!mesh) return;
    if (change.values) {
      const light = mesh.getCellData().getArrayByName('light');
      if (light && light.getNumberOfValues() === change.values.length) {
        light.setData(Float32Array.from(change.values, (one) => one / 255), 1);
        mesh.modified();
      }
    }
    if (change.points) {
      const bytes = change.points.slice();
      mesh.getPoints().setData(new Float32Array(bytes.buffer, bytes.byteOffset, bytes.byteLength / 4), 3);
      mesh.modified();
    }
  };

  const touched = ([changes]) => {
    if (gathering) {
      for (const [id, one] of Object.entries(changes)) gathering[id] = { ...gathering[id], ...one };
      return;
    }
    const gathered = { ...changes };
    gathering = gathered;
    inTurn(async () => {
      await frame(); // drawn in the frame that shows the new numbers too: each frame costs, drawn without a card
      if (gathering === gathered) gathering = null;
      moves();
      for (const view of drawings()) {
        for (const [id, one] of Object.entries(gathered)) put(view, id, one);
        if (view.container && view.container.offsetParent) view.renderWindow.render();
      }
    });
  };

  // What was moved here and waits to be sent is not put back by news of how it stood before: the choice would be lost.
  const stand = ([news]) => {
    const { state } = window.trame;
    const told = Object.entries(news).filter(([name]) => !state.dirtyKeys.has(name));
    return state._updateFromServer(Object.fromEntries(told));
  };
  const standInstead = (session) => {
    const { state, client } = window.trame;
    const usual = state.subscriptions.pop();
    state.subscriptions.push(session.subscribe('trame.state.topic', stand));
    client.getRemote().Trame.unsubscribe(usual);
  };

  window.boatStill = () => waiting === 0 && window.boatDrawing.still(); // all that came is drawn, and finely

  const begin = setInterval(() => {
    const session = window.trame && window.trame.client && window.trame.client.getConnection()
      && window.trame.client.getConnection().getSession();
    if (!session) return;
    drawings().forEach(tame);
    if (!window.boatTouched) {
      window.boatTouched = session.subscribe('boat.touch', touched);
      standInstead(session);
    }
    if (drawings().length > 1) clearInterval(begin);
  }, 20);
})();
