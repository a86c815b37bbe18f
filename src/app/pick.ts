/** Pointing at a place on the cast: a click, or the keyboard with the middle of the picture. */
import { type Point, pt } from '../geometry/vec.ts';
import type { SceneView } from '../viewer/scene.ts';
import { h } from './dom.ts';

/** A pointer that moves farther than this turns the ear, px. */
const CLICK = 4;

/** Asks for a place; `done` gets it in the ear frame. Asked again, the one before is forgotten. */
export type Pick = (what: string, done: (at: Point<'ear'>) => void) => void;

export function makePick(view: SceneView, stage: HTMLElement): Pick {
  let open: AbortController | undefined;
  return (what, done) => {
    open?.abort();
    const ended = new AbortController();
    open = ended;
    const { signal } = ended;
    const missed = h('span', { role: 'status' });
    const leave = h('button', { type: 'button', class: 'link', onclick: () => ended.abort() }, 'Leave it');
    const bar = h(
      'p',
      { class: 'pick' },
      h('b', {}, `Point out ${what}.`),
      ' Click it on the cast; or turn the ear until it lies under the cross and press Enter. ',
      leave,
      missed,
    );
    const cross = h('i', { class: 'pick-cross', 'aria-hidden': 'true' });
    stage.append(bar, cross);
    stage.classList.add('picking');
    signal.addEventListener('abort', () => {
      bar.remove();
      cross.remove();
      stage.classList.remove('picking');
      open = undefined;
    });
    const take = (x: number, y: number): void => {
      const at = view.castAt(x, y);
      if (!at) {
        missed.textContent = ' There is no cast at that place.';
        return;
      }
      ended.abort();
      done(pt(at[0], at[1], at[2]));
    };
    listen(view.canvas, signal, take, () => ended.abort());
    view.canvas.focus();
    view.canvas.scrollIntoView({ block: 'nearest' });
  };
}

function listen(canvas: HTMLCanvasElement, signal: AbortSignal, take: (x: number, y: number) => void, leave: () => void): void {
  let down: PointerEvent | undefined;
  canvas.addEventListener(
    'pointerdown',
    (event) => {
      down = event;
    },
    { signal },
  );
  canvas.addEventListener(
    'pointerup',
    (event) => {
      if (!down || Math.hypot(event.clientX - down.clientX, event.clientY - down.clientY) > CLICK) return;
      take(event.offsetX, event.offsetY);
    },
    { signal },
  );
  canvas.addEventListener(
    'keydown',
    (event) => {
      if (event.key === 'Enter') take(canvas.clientWidth / 2, canvas.clientHeight / 2);
      else if (event.key === 'Escape') leave();
      else return;
      event.preventDefault();
      event.stopPropagation();
    },
    { signal },
  );
}
