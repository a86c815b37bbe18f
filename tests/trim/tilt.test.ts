/** Tilted faceplates on a straight canal: what a plane through a cylinder's axis cuts off does not depend on its slant. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readCase, writeCase } from '../../src/casefile/index.ts';
import { Arena, type Kernel, loadKernel } from '../../src/geometry/kernel.ts';
import { cos, PI, radians, sin } from '../../src/geometry/trig.ts';
import { length, pt } from '../../src/geometry/vec.ts';
import type { Ear } from '../../src/model/ear.ts';
import { Fault } from '../../src/model/fault.ts';
import type { StyleCuts } from '../../src/model/fit.ts';
import type { StyleName } from '../../src/model/parts.ts';
import { adjustStyle } from '../../src/parts/adjust.ts';
import { styleNamed } from '../../src/parts/index.ts';
import { solidCast, trimCast } from '../../src/trim/index.ts';
import { roundEar } from '../remedy/benches.ts';

describe('a tilted faceplate', () => {
  let kernel: Kernel;
  const arena = new Arena();
  beforeAll(async () => {
    kernel = await loadKernel();
  });
  afterAll(() => arena.free());
  const trim = (name: StyleName, cuts: StyleCuts, ear: Ear = roundEar(5)) =>
    trimCast(solidCast(kernel, ear, arena), ear, adjustStyle(styleNamed(name), cuts));
  const bodyOf = (name: StyleName, cuts: StyleCuts, ear?: Ear) => {
    const result = trim(name, cuts, ear);
    if (result.kind !== 'body') throw new Error(result.reason.text);
    return result.body;
  };
  const outer = (name: StyleName, cuts: StyleCuts) => bodyOf(name, cuts).cuts[0]?.plane ?? { point: [0, 0, 0], normal: [0, 0, 0] };

  test.each([-12, -6, -0.5, 3, 12])('by %f degrees turns the normal by just that, towards the side that is said', (angle) => {
    const [up, on] = [outer('IIC', { tilt: { superior: angle } }), outer('IIC', { tilt: { anterior: angle } })];
    expect(up.normal[0]).toBeCloseTo(0, 12);
    expect(up.normal[1]).toBeCloseTo(sin(radians(angle)), 12);
    expect(up.normal[2]).toBeCloseTo(cos(radians(angle)), 12);
    expect(on.normal[0]).toBeCloseTo(sin(radians(angle)), 12);
    expect(on.normal[1]).toBeCloseTo(0, 12);
    expect(up.point).toEqual(outer('IIC', {}).point);
  });

  test('by two angles at once: their tangents stand side by side, the normal has length 1', () => {
    const { normal: n } = outer('IIC', { tilt: { superior: 9, anterior: -4 } });
    expect(length([n[0], n[1], n[2]])).toBeCloseTo(1, 12);
    expect((n[1] as number) / (n[2] as number)).toBeCloseTo(sin(radians(9)) / cos(radians(9)), 12);
    expect((n[0] as number) / (n[2] as number)).toBeCloseTo(-sin(radians(4)) / cos(radians(4)), 12);
  });

  test('a slanted cut through the axis leaves a cylinder its volume: area times length of the axis', () => {
    const area = (48 / 2) * sin((2 * PI) / 48) * 25;
    for (const tilt of [{ superior: 12 }, { anterior: -12 }, { superior: -7, anterior: 11 }]) {
      expect(bodyOf('IIC', { tilt }).volume).toBeCloseTo(area * (14 - 2), 2);
      // One plane more than none: the face is an ellipse, longer than the circle.
      const { mesh } = bodyOf('IIC', { tilt });
      expect(Math.max(...mesh.positions.filter((_, i) => i % 3 === 2))).toBeGreaterThan(-1.5);
    }
  });

  test('no tilt, said as such, is no tilt to the last bit; and takes a tilt back', () => {
    const plain = styleNamed('CIC');
    const none = adjustStyle(plain, { tilt: { superior: 0 } });
    expect(none).toEqual(plain);
    expect(adjustStyle(adjustStyle(plain, { tilt: { anterior: 5 } }), { tilt: {} })).toEqual(plain);
    expect(outer('CIC', { tilt: {} })).toEqual(outer('CIC', {}));
    // Another cut said later leaves it.
    expect(adjustStyle(adjustStyle(plain, { tilt: { anterior: 5 } }), { outer: 1 }).outer).toHaveProperty('tilt');
  });

  test('stays below the rim plane: the edge that would stand out is told with its figure', () => {
    // At 10 mm in a canal of radius 5 whose rim plane lies at 12: the edge rises by 5 tan(angle), to 1 mm below at 11.31 degrees.
    expect(trim('HS', { outer: 10, tilt: { superior: 11 } }, withCrus()).kind).toBe('body');
    const over = trim('HS', { outer: 10, tilt: { anterior: 12 } }, withCrus());
    expect(over).toMatchObject({ kind: 'short', reason: { code: 'trim/over-rim', needs: 1 } });
    if (over.kind === 'short') expect(over.reason.has).toBeCloseTo(2 - 5 * (sin(radians(12)) / cos(radians(12))), 2);
  });

  test('a tilt that no style allows, and any tilt of one that follows the rim, is refused with its range', () => {
    const faultOf = (name: StyleName, cuts: StyleCuts): string => {
      try {
        adjustStyle(styleNamed(name), cuts);
      } catch (e) {
        if (e instanceof Fault) return `${e.where}: ${e.found}`;
        throw e;
      }
      return 'was taken';
    };
    expect(faultOf('IIC', { tilt: { superior: 12.5 } })).toMatch(/cuts IIC tilt superior: .* is 12.5 degrees, must be -12 to 12/);
    expect(faultOf('CIC', { tilt: { anterior: -13 } })).toMatch(/cuts CIC tilt anterior/);
    expect(faultOf('ITE', { tilt: { superior: 1 } })).toMatch(/cuts ITE tilt: .* follows the rim plane and cannot be tilted/);
    expect(faultOf('IIC', { tilt: { superior: Number.NaN } })).toMatch(/tilt superior/);
  });

  test('a case file says it, there and back', () => {
    const whole = {
      scan: 'a.stl',
      cuts: { IIC: { tilt: { superior: 6, anterior: -3 }, outer: -1 }, ITC: { tilt: { anterior: 12 } } },
    } as const;
    expect(readCase(writeCase(whole), 'a')).toEqual(whole);
    const wrong = { format: 'cavum-case', version: 1, scan: 'a.stl', cuts: { IIC: { tilt: { superior: '6', forwards: 2 } } } };
    const read = () => readCase(JSON.stringify(wrong), 'a');
    expect(read).toThrow(/tilt\/superior.*without quotes: 6/);
    expect(read).toThrow(/tilt\/forwards: unknown key/);
  });
});

const withCrus = (): Ear => ({ ...roundEar(5), crus: { at: pt(0, 9, 6), confidence: 1 } });
