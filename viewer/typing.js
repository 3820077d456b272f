// What is being typed or held is not overwritten by answers that come in meanwhile.
(() => {
  const plain = Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, 'value');
  const kinds = new Set(['text', 'number', 'range']);
  document.addEventListener('input', ({ target }) => {
    if (!(target instanceof HTMLInputElement) || !kinds.has(target.type)) return;
    Object.defineProperty(target, 'value', {
      configurable: true,
      get() { return plain.get.call(this); },
      set(value) { if (document.activeElement !== this) plain.set.call(this, value); },
    });
  }, true);
  const done = ({ target }) => { if (target instanceof HTMLInputElement) delete target.value; };
  document.addEventListener('change', done, true);
  document.addEventListener('focusout', done, true);
})();
