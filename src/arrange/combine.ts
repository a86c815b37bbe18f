/**
 * Choosing one pose from every pool so that as little as possible is too close: a table of pair shortfalls, filled as
 * it is asked, and descent over it, one part at a time. Thousands of combinations cost what one relaxation costs.
 */
import type { Random } from '../geometry/random.ts';
import { pairGap } from '../room/pair.ts';
import { mostAsked, pairAsked } from './contacts.ts';
import type { Model, PartModel } from './model.ts';
import type { Pool, Pose7 } from './pool.ts';

export class Combiner {
  readonly #m: Model;
  readonly #pools: readonly Pool[];
  readonly #wished: number;
  /** Squared shortfall of pose i of part a and pose j of part b (a < b), NaN: not asked yet. */
  readonly #tables: Float32Array[];
  readonly #n: number;

  constructor(m: Model, pools: readonly Pool[], wished: number) {
    this.#m = m;
    this.#pools = pools;
    this.#wished = wished;
    this.#n = m.parts.length;
    this.#tables = [];
    for (let a = 0; a < this.#n; a++) {
      for (let b = 0; b < this.#n; b++) {
        const size = a < b ? (pools[a] as Pool).poses.length * (pools[b] as Pool).poses.length : 0;
        this.#tables.push(new Float32Array(size).fill(Number.NaN));
      }
    }
  }

  #cost(a: number, i: number, b: number, j: number): number {
    if (a > b) return this.#cost(b, j, a, i);
    const table = this.#tables[a * this.#n + b] as Float32Array;
    const at = i * (this.#pools[b] as Pool).poses.length + j;
    const known = table[at] as number;
    if (!Number.isNaN(known)) return known;
    const value = this.#measure(a, (this.#pools[a] as Pool).poses[i] as Pose7, b, (this.#pools[b] as Pool).poses[j] as Pose7);
    table[at] = value;
    return value;
  }

  #measure(a: number, x: Pose7, b: number, y: Pose7): number {
    const m = this.#m;
    const p = m.parts[a] as PartModel;
    const q = m.parts[b] as PartModel;
    const wished = this.#wished;
    let short = 0;
    const dx = (x.at[4] as number) - (y.at[4] as number);
    const dy = (x.at[5] as number) - (y.at[5] as number);
    const dz = (x.at[6] as number) - (y.at[6] as number);
    const need = wished + mostAsked(m, p, q);
    if (Math.sqrt(dx * dx + dy * dy + dz * dz) - p.radius - q.radius < need) {
      for (let i = 0; i < x.solids.count; i++) {
        for (let j = 0; j < y.solids.count; j++) {
          const asked = pairAsked(m, p, i, q, j) + wished;
          if (Number.isNaN(asked)) continue;
          const lack = asked - pairGap(x.solids, i, y.solids, j, asked, false);
          if (lack > 0) short += lack * lack;
        }
      }
    }
    for (const ports of m.ports) {
      if ((ports.front === a && ports.rear === b) || (ports.front === b && ports.rear === a)) {
        short += portsShort(m, ports, ports.front === a ? x : y, ports.front === a ? y : x);
      }
    }
    return short;
  }

  /** One combination, by random greedy choice and then descent; its shortfall is left in `cost`. */
  cost = 0;
  choose(random: Random, greed: number): number[] {
    const n = this.#n;
    const chosen = new Array<number>(n).fill(-1);
    const order = shuffled(n, random);
    for (const p of order) {
      const size = (this.#pools[p] as Pool).poses.length;
      let best = Infinity;
      for (let k = 0; k < greed; k++) {
        const i = random.below(size);
        const c = this.#costOf(p, i, chosen, best);
        if (c < best) {
          best = c;
          chosen[p] = i;
        }
      }
    }
    this.improve(chosen, order);
    return chosen;
  }

  /** Descends: each part in turn takes its best pose beside the others, until none changes. */
  improve(chosen: number[], order: readonly number[]): void {
    for (let pass = 0; pass < 6; pass++) {
      let changed = false;
      for (const p of order) {
        const now = chosen[p] as number;
        let best = this.#costOf(p, now, chosen, Infinity);
        if (best === 0) continue;
        const size = (this.#pools[p] as Pool).poses.length;
        for (let i = 0; i < size; i++) {
          const c = this.#costOf(p, i, chosen, best);
          if (c < best - 1e-6) {
            best = c;
            chosen[p] = i;
          }
        }
        if (chosen[p] !== now) changed = true;
      }
      if (!changed) break;
    }
    this.cost = 0;
    for (let p = 0; p < this.#n; p++) {
      this.cost += this.#own(p, chosen[p] as number);
      for (let q = 0; q < p; q++) this.cost += this.#cost(q, chosen[q] as number, p, chosen[p] as number);
    }
  }

  #own(p: number, i: number): number {
    const lack = this.#wished - ((this.#pools[p] as Pool).poses[i] as Pose7).spare;
    return lack > 0 ? lack * lack : 0;
  }

  #costOf(p: number, i: number, chosen: readonly number[], stop: number): number {
    let c = this.#own(p, i);
    for (let q = 0; q < this.#n && c < stop; q++) {
      const j = chosen[q] as number;
      if (q !== p && j >= 0) c += this.#cost(p, i, q, j);
    }
    return c;
  }
}

export function shuffled(n: number, random: Random): number[] {
  const out = Array.from({ length: n }, (_, k) => k);
  for (let k = n - 1; k > 0; k--) {
    const j = random.below(k + 1);
    const s = out[k] as number;
    out[k] = out[j] as number;
    out[j] = s;
  }
  return out;
}

/** Squared breach of a ports rule by two poses. */
function portsShort(m: Model, ports: Model['ports'][number], front: Pose7, rear: Pose7): number {
  const a = originOf(m, ports.front, front);
  const b = originOf(m, ports.rear, rear);
  const x = a[0] - b[0];
  const y = a[1] - b[1];
  const z = a[2] - b[2];
  const d = Math.sqrt(x * x + y * y + z * z);
  const breach = [ports.rule.least - d, d - ports.rule.most, Math.abs(y) - ports.tiltSin * d, 0.01 - x];
  return breach.reduce((s, v) => (v > 0 ? s + v * v : s), 0);
}

function originOf(m: Model, p: number, pose: Pose7): [number, number, number] {
  const part = m.parts[p] as PartModel;
  const [qx, qy, qz, qw, cx, cy, cz] = pose.at as unknown as [number, number, number, number, number, number, number];
  const [x, y, z] = part.centre;
  const tx = 2 * (qy * z - qz * y);
  const ty = 2 * (qz * x - qx * z);
  const tz = 2 * (qx * y - qy * x);
  return [cx - (x + qw * tx + qy * tz - qz * ty), cy - (y + qw * ty + qz * tx - qx * tz), cz - (z + qw * tz + qx * ty - qy * tx)];
}
