// What is being typed or held is not overwritten by answers that come in meanwhile; turning the boat picks nothing.
(() => {
  const plain = Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, 'value');
  const kinds = new Set(['text', 'number', 'range']);
  let pressed = null; // a finger holds a slider without giving it the focus
  const holds = (one) => document.activeElement === one || pressed === one;
  document.addEventListener('input', ({ target }) => {
    if (!(target instanceof HTMLInputElement) || !kinds.has(target.type)) return;
    Object.defineProperty(target, 'value', {
      configurable: true,
      get() { return plain.get.call(this); },
      set(value) { if (!holds(this)) plain.set.call(this, value); },
    });
  }, true);
  const done = ({ target }) => { if (target instanceof HTMLInputElement) delete target.value; };
  document.addEventListener('change', done, true);
  document.addEventListener('focusout', done, true);
  document.addEventListener('pointerdown', ({ target }) => { pressed = target; }, true);
  for (const end of ['touchend', 'touchcancel', 'mouseup']) document.addEventListener(end, () => { pressed = null; }, true);

  const still = 6; // a press that moves no further than this picks [px]
  let from = null;
  document.addEventListener('pointerdown', (event) => { from = [event.clientX, event.clientY]; }, true);
  document.addEventListener('click', (event) => {
    const moved = from ? Math.hypot(event.clientX - from[0], event.clientY - from[1]) : 0;
    if (moved > still && event.target.closest('.pictures')) event.stopPropagation();
  }, true);
})();
