import { describe, expect, test } from 'vitest';
import { check, sideOf } from '../../src/engine/index.ts';
import type { CheckEvent } from '../../src/engine/types.ts';
import { Fault } from '../../src/model/fault.ts';
import { sampleBytes, samples } from '../support/samples.ts';

describe('sideOf', () => {
  test.each([
    ['qb-101-right-wide.stl', 'right'],
    ['C:\\casts\\17 L.stl', 'left'],
    ['case_LEFT_2.stl', 'left'],
    ['0417-R.stl', 'right'],
  ])('%s is a %s ear', (name, side) => {
    expect(sideOf({ name }, {}).side).toBe(side);
  });

  test.each(['cast.stl', 'left-and-right.stl', 'bright.stl', 'cleft.stl', '/left/cast.stl'])('%s: asks', (name) => {
    expect(() => sideOf({ name }, {})).toThrow(Fault);
  });

  test('what is said goes before the order, the order before the name', () => {
    expect(sideOf({ name: 'a-left.stl', side: 'right' }, { side: 'left' }).side).toBe('right');
    expect(sideOf({ name: 'a-left.stl' }, { side: 'right' }).side).toBe('right');
  });
});

describe('check', () => {
  const sample = samples()[0] as ReturnType<typeof samples>[number];
  const request = { bytes: sampleBytes(sample.file), name: sample.file, effort: 'quick' } as const;

  test('tells scan, ear and rungs in order, and how far it is without going back', async () => {
    const events: CheckEvent[] = [];
    await check(request, { onEvent: (e) => events.push(e) });
    const kinds = events.filter((e) => e.type !== 'working').map((e) => e.type);
    expect(kinds).toEqual(['scan', 'ear', 'rung', 'rung', 'rung', 'rung', 'rung']);
    const done = events.flatMap((e) => (e.type === 'working' ? [e.done] : []));
    expect(done).toEqual([...done].sort((a, b) => a - b));
  });

  test('an aborted check rejects with the reason that was given and leaves nothing half done', async () => {
    const abort = new AbortController();
    const why = new Error('the user went home');
    const rungs: CheckEvent[] = [];
    const job = check(request, {
      signal: abort.signal,
      onEvent: (e) => {
        if (e.type === 'ear') abort.abort(why);
        if (e.type === 'rung') rungs.push(e);
      },
    });
    await expect(job).rejects.toBe(why);
    expect(rungs).toEqual([]);
  });

  test('the bytes given are not touched', async () => {
    const bytes = sampleBytes(sample.file);
    const before = bytes.slice();
    await check({ ...request, bytes, styles: ['CIC'] });
    expect(Buffer.compare(bytes, before)).toBe(0); // toEqual walks 4 million elements one by one
  });
});
