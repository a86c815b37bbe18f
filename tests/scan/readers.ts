/** What the tests of single readers have in common: they look at the loose triangles, before any mending. */
import fc from 'fast-check';
import { Fault } from '../../src/model/fault.ts';
import type { Soup } from '../../src/scan/files/soup.ts';

export const SEED = Number(process.env['SEED'] ?? 20260101);

export const bytesOf = (data: string | Uint8Array): Uint8Array => (typeof data === 'string' ? new TextEncoder().encode(data) : data);

/** A little-endian number of so many bytes. */
export const le = (x: number, n: number): number[] => Array.from({ length: n }, (_, k) => Math.floor(x / 256 ** k) % 256);

/** The Fault that the work ends in. */
export function refusalOf(work: () => unknown): Fault {
  try {
    work();
  } catch (e) {
    if (e instanceof Fault) return e;
    throw e;
  }
  throw new Error('no Fault');
}

/** Findings as one text: "code level: text", a line each. */
export const told = (s: Soup): string => s.findings.map((f) => `${f.code} ${f.level}: ${f.text}`).join('\n');

/** Of loose triangles, by the divergence theorem. */
export function volumeOf(corners: ArrayLike<number>): number {
  let six = 0;
  for (let i = 0; i < corners.length; i += 9) {
    const [a, b, c] = [0, 3, 6].map((k) => [0, 1, 2].map((n) => corners[i + k + n] as number)) as [number[], number[], number[]];
    const minor = (p: number, q: number): number => (b[p] as number) * (c[q] as number) - (b[q] as number) * (c[p] as number);
    six += (a[0] as number) * minor(1, 2) - (a[1] as number) * minor(0, 2) + (a[2] as number) * minor(0, 1);
  }
  return six / 6;
}

export function extentOf(s: Soup): number[] {
  const axis = (k: number): Float64Array => s.corners.filter((_c, i) => i % 3 === k);
  return [0, 1, 2].map((k) => axis(k).reduce((m, c) => Math.max(m, c), -Infinity) - axis(k).reduce((m, c) => Math.min(m, c), Infinity));
}

/** Points (x y z in a row) through twelve numbers, row vectors, by the definition. */
export const through = (points: readonly number[], m: readonly number[]): number[] =>
  points.map((_x, i) => {
    const [from, k] = [i - (i % 3), i % 3];
    return [0, 1, 2].reduce((sum, r) => sum + (points[from + r] as number) * (m[3 * r + k] as number), 0) + (m[9 + k] as number) + 0;
  });

/** What must come of damaged bytes: '' for finite triangles or a Fault with all its parts. */
export function verdictOf(read: (bytes: Uint8Array) => Soup, bytes: Uint8Array): string {
  try {
    const soup = read(bytes);
    return soup.corners.every(Number.isFinite) && soup.corners.length > 0 ? '' : 'not finite, or empty';
  } catch (e) {
    if (!(e instanceof Fault)) return String((e as Error).stack);
    return e.code.startsWith('scan/') && e.found !== '' && e.next !== '' && !/undefined|NaN/.test(e.message) ? '' : e.message;
  }
}

/** Ways to damage bytes: replace, cut out, repeat elsewhere, turn round. */
export const damages = fc.array(fc.tuple(fc.constantFrom('set', 'cut', 'copy', 'turn'), fc.nat(), fc.nat()), {
  minLength: 1,
  maxLength: 5,
});

export function damaged(bytes: Uint8Array, changes: readonly (readonly [kind: string, x: number, y: number])[]): Uint8Array {
  let b = Array.from(bytes);
  for (const [kind, x, y] of changes) {
    if (b.length === 0) break;
    const at = x % b.length;
    const n = 1 + (y % 40);
    if (kind === 'set') b[at] = y % 256;
    if (kind === 'cut') b.splice(at, n);
    if (kind === 'copy') b.splice(y % b.length, 0, ...b.slice(at, at + n));
    if (kind === 'turn') b = [...b.slice(at), ...b.slice(0, at)];
  }
  return Uint8Array.from(b);
}
