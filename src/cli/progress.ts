import type { CheckEvent } from '../model/case.ts';
import { styleNamed } from '../parts/index.ts';
import { STAGE_WORDS, VERDICT_WORDS } from '../report/index.ts';
import type { Io } from './io.ts';

/** Tells on stderr what is being done: one line that overwrites itself on a terminal, a line a rung elsewhere. */
export function progress(io: Io): (event: CheckEvent) => void {
  const clear = io.live ? '\r\x1b[K' : '';
  return (event) => {
    if (event.type === 'working' && io.live) {
      const style = event.style ? `${styleNamed(event.style).title}: ` : '';
      io.talk(`${clear}${String(Math.round(100 * event.done)).padStart(3)} %  ${style}${STAGE_WORDS[event.stage]}`);
    }
    if (event.type === 'rung') io.talk(`${clear}${styleNamed(event.rung.style).title}: ${VERDICT_WORDS[event.rung.verdict]}\n`);
  };
}
