/** The list of scans that come with the page. A page without one still works. */
import type { Sample } from './store.ts';

export async function readSamples(): Promise<readonly Sample[]> {
  try {
    const answer = await fetch(new URL('sample-scans/index.json', document.baseURI));
    return answer.ok ? samplesIn(await answer.json()) : [];
  } catch {
    return [];
  }
}

/** Keeps what is a sample; says nothing about what is not. */
export function samplesIn(list: unknown): readonly Sample[] {
  if (!Array.isArray(list)) return [];
  return list.filter(isSample);
}

function isSample(x: unknown): x is Sample {
  if (typeof x !== 'object' || x === null) return false;
  const { file, side, title, teaches } = x as Record<string, unknown>;
  return typeof file === 'string' && (side === 'left' || side === 'right') && typeof title === 'string' && typeof teaches === 'string';
}
