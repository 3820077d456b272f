// A finger on the chart of hour by latitude is told which square it is on before it lets go; arrow keys go from square to square.
(() => {
  const hold = 200; // a finger that rests this long slides from square to square; one that moves before that scrolls [ms]
  const still = 10; // it rests while it moves no further than this [px]
  let aimed = null; // the square that is gone to when the finger lets go
  let [begun, from, sliding] = [0, [0, 0], false];

  const nearest = (grid, x, y) => {
    const off = (one) => {
      const { left, right, top, bottom } = one.getBoundingClientRect();
      return Math.hypot(Math.max(left - x, 0, x - right), Math.max(top - y, 0, y - bottom));
    };
    return [...grid.querySelectorAll('button')].reduce((best, one) => (off(one) < off(best) ? one : best));
  };
  const aim = (square) => {
    if (aimed) aimed.classList.remove('aimed');
    const said = document.querySelector('.chart .aim');
    if (said) said.textContent = square ? `${square.getAttribute('aria-label')} – let go to go there` : '';
    if (square) square.classList.add('aimed');
    aimed = square;
  };
  const grid = ({ target }) => target.closest && target.closest('.chart .grid');
  const listen = (kind, call) => document.addEventListener(kind, call, { capture: true, passive: false });

  listen('touchstart', (event) => {
    const here = grid(event);
    if (!here || event.touches.length > 1) { aim(null); return; }
    const { clientX, clientY } = event.touches[0];
    [begun, from, sliding] = [event.timeStamp, [clientX, clientY], false];
    aim(nearest(here, clientX, clientY));
  });
  listen('touchmove', (event) => {
    if (!aimed) return;
    const { clientX, clientY } = event.touches[0];
    sliding = sliding || event.timeStamp - begun >= hold;
    if (sliding) {
      event.preventDefault();
      aim(nearest(aimed.closest('.grid'), clientX, clientY));
    } else if (Math.hypot(clientX - from[0], clientY - from[1]) > still) aim(null);
  });
  listen('touchend', (event) => {
    if (!aimed) return;
    event.preventDefault(); // no click of the browser's own besides
    const square = aimed;
    aim(null);
    square.click();
  });
  listen('touchcancel', () => aim(null));

  const steps = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };
  listen('keydown', (event) => {
    const here = grid(event);
    if (!here || !steps[event.key] || event.target.tagName !== 'BUTTON') return;
    event.preventDefault();
    const rows = [...here.querySelectorAll('.row')].map((row) => [...row.querySelectorAll('button')]);
    const row = rows.findIndex((one) => one.includes(event.target));
    const [down, right] = steps[event.key];
    const to = rows[row + down] && rows[row + down][rows[row].indexOf(event.target) + right];
    if (!to) return;
    to.focus();
    to.click();
  });
})();
