import { expect, test } from 'vitest';
import { encodeStl } from '../../src/synth/index.ts';

// Layout of binary STL: 80-byte header, uint32 count, then 50 bytes a triangle (normal, three corners, a zero word), little-endian.
test('one triangle, byte by byte', () => {
  const bytes = encodeStl({
    frame: 'scan',
    positions: Float64Array.from([0, 0, 0, 2, 0, 0, 0, 3, 0]),
    indices: Uint32Array.from([0, 1, 2]),
  });
  expect(bytes.length).toBe(134);
  const view = new DataView(bytes.buffer);
  expect(view.getUint32(80, true)).toBe(1);
  const floats = Array.from({ length: 12 }, (_, i) => view.getFloat32(84 + 4 * i, true));
  expect(floats).toEqual([0, 0, 1, 0, 0, 0, 2, 0, 0, 0, 3, 0]);
  expect(view.getUint16(132, true)).toBe(0);
  // A reader that takes a file beginning with "solid" for the text form must not be misled.
  expect(new TextDecoder().decode(bytes.slice(0, 5))).not.toBe('solid');
});
