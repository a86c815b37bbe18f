import type { Witness } from './exact.ts';
import type { Model, PartModel } from './model.ts';
import type { Rows } from './rows.ts';
import type { World } from './state.ts';

/** Witnesses remembered in one climb. */
const MOST = 80;

/** Contacts that exact measurements came upon: what samples miss is in a climb's model from then on. */
export class Contacts {
  readonly #m: Model;
  #kept: Witness[] = [];

  constructor(m: Model) {
    this.#m = m;
  }

  /** Another climb begins. */
  forget(): void {
    this.#kept = [];
  }

  keep(found: readonly Witness[]): void {
    for (const f of found) this.#kept.push(f);
    if (this.#kept.length > MOST) this.#kept = this.#kept.slice(this.#kept.length - MOST);
  }

  /** Remembered contacts, measured anew from the part's point to the triangle. */
  rows(w: World, below: number, rows: Rows): void {
    const m = this.#m;
    const { near } = m.room.field;
    for (const k of this.#kept) {
      const part = m.parts[k.part] as PartModel;
      const f = w.frame;
      const o = 12 * k.part;
      const x = (f[o] as number) * k.x + (f[o + 1] as number) * k.y + (f[o + 2] as number) * k.z;
      const y = (f[o + 3] as number) * k.x + (f[o + 4] as number) * k.y + (f[o + 5] as number) * k.z;
      const z = (f[o + 6] as number) * k.x + (f[o + 7] as number) * k.y + (f[o + 8] as number) * k.z;
      const px = x + (f[o + 9] as number);
      const py = y + (f[o + 10] as number);
      const pz = z + (f[o + 11] as number);
      const d = Math.sqrt(near.distance2(k.place, px, py, pz));
      const value = d - (part.wallAsked[k.primitive] as number);
      if (value >= below || d < 1e-6) continue;
      const r = rows.add(value, k.part, -1);
      rows.point(m, r, 0, part, (px - near.qx) / d, (py - near.qy) / d, (pz - near.qz) / d, x, y, z);
    }
  }
}
