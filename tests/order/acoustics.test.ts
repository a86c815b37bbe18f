import { describe, expect, test } from 'vitest';
import { pt } from '../../src/geometry/vec.ts';
import { cardioidLevel, portFigures } from '../../src/order/microphones.ts';
import { usableGain, ventFor, ventResonance } from '../../src/order/vent.ts';
import { GENERIC } from '../../src/parts/index.ts';

describe('vents', () => {
  // f0 = (c/2pi) sqrt(S/(L'V)), S = pi d^2/4, L' = L + 0.85 d, c = 343 m/s (Helmholtz resonator, both ends flanged), reckoned apart from this
  // code and rounded to 1 Hz: volume, then d = 1, 2, 3 mm for L = 10, 15, 20 mm.
  test.each([
    [0.6, [600, 1155, 1673], [496, 967, 1414], [433, 848, 1248]],
    [1.2, [424, 817, 1183], [351, 684, 1000], [306, 600, 882]],
    [2.0, [328, 633, 916], [272, 529, 775], [237, 464, 683]],
  ])('resonance into %f cm3', (volume, ...rows) => {
    for (const [l, row] of rows.entries()) {
      for (const [d, hertz] of row.entries())
        expect(Math.round(ventResonance(d + 1, 10 + 5 * l, volume)), `${d + 1} x ${10 + 5 * l}`).toBe(hertz);
    }
  });

  test('a wider or shorter vent, or less air, resonates higher', () => {
    const f = ventResonance(2, 15, 0.6);
    expect(ventResonance(2.1, 15, 0.6)).toBeGreaterThan(f);
    expect(ventResonance(2, 14, 0.6)).toBeGreaterThan(f);
    expect(ventResonance(2, 15, 0.5)).toBeGreaterThan(f);
  });

  test('the better the low frequencies, the wider the vent', () => {
    const widths = [-10, 0, 20, 20.1, 30, 35, 45, 60, 130].map((low) => ventFor(low, GENERIC.vents).diameter);
    expect(widths).toEqual([...widths].sort((a, b) => b - a));
    expect(widths[0]).toBe(3);
    expect(widths[2]).toBe(3); // a limit belongs to its class
    expect(widths[3]).toBe(2);
    expect(widths.at(-1)).toBe(0.8);
  });

  test('usable gain falls with the diameter (from memory: closed 50, 1 mm 45, 2 mm 40, 3.5 mm 30 dB)', () => {
    expect([0, 0.5, 1, 2, 2.75, 3.5, 5].map(usableGain)).toEqual([50, 47.5, 45, 40, 35, 30, 30]);
  });
});

describe('two ports', () => {
  // Delay d/c, first null c/2d, level 20 log10(2 sin(2 pi f d/c)) at 500 Hz, c = 343 m/s; reckoned apart from this code, rounded as shown.
  test.each([
    [4, 11.7, 42.9, -22.7, 3.76],
    [6, 17.5, 28.6, -19.2, 5.64],
    [8, 23.3, 21.4, -16.7, 7.52],
    [10, 29.2, 17.1, -14.8, 9.4],
    [12, 35.0, 14.3, -13.2, 11.28],
  ])('%f mm apart', (d, delay, kilohertz, level, tilted) => {
    const p = portFigures(pt(d, 0, 3), pt(0, 0, 3));
    expect(p?.delay.toFixed(1)).toBe(delay.toFixed(1));
    expect(((p?.firstNull ?? 0) / 1000).toFixed(1)).toBe(kilohertz.toFixed(1));
    expect(p?.at500.toFixed(1)).toBe(level.toFixed(1));
    expect(p).toMatchObject({ spacing: d, tilt: 0, level: d });
    const up = (20 * Math.PI) / 180;
    const q = portFigures(pt(d * Math.cos(up), d * Math.sin(up), 0), pt(0, 0, 0));
    expect(q?.tilt).toBeCloseTo(20, 9);
    expect(q?.level).toBeCloseTo(tilted, 2);
    expect(q?.spacing).toBeCloseTo(d, 9);
  });

  test('half the spacing costs 6 dB', () => {
    expect(cardioidLevel(8, 500) - cardioidLevel(4, 500)).toBeCloseTo(6, 1);
  });

  test('one above the other: no figures rather than infinite ones', () => {
    expect(portFigures(pt(0, 5, 0), pt(0, 0, 0))).toBeUndefined();
    expect(portFigures(pt(0, 0, 0), pt(0, 0, 0))).toBeUndefined();
  });
});
