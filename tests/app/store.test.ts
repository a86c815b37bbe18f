import { describe, expect, test } from 'vitest';
import { samplesIn } from '../../src/app/samples.ts';
import { reduce, START, type State } from '../../src/app/store.ts';
import { STYLES } from '../../src/model/parts.ts';
import type { Check } from '../../src/worker/serve.ts';
import { check } from '../support/standin.ts';
import { good, wired } from './wired.ts';

const bad = new Uint8Array(3);

const bench = (engine: Check = check) => wired(engine);

const until = async (holds: () => boolean): Promise<void> => {
  for (let i = 0; i < 400 && !holds(); i++) await new Promise((resolve) => setTimeout(resolve, 5));
  if (!holds()) throw new Error('it did not come to that');
};

describe('opening', () => {
  test('a case fills the ladder; the recommended style is chosen and the section lies where it is tightest', async () => {
    const { store, client, session } = bench();
    await session.open({ name: 'a-right.stl', bytes: good });
    const state = store.get();
    expect(Object.keys(state.shown?.rungs ?? {})).toEqual([...STYLES]);
    expect([state.selected, state.work.state, state.shown?.side]).toEqual(['ITC', 'idle', 'right']);
    expect(state.depth).toBeCloseTo(10, 1);
    expect(state.shown?.rungs.ITC?.rung.body).toBeDefined();
    client.close();
  });

  test('a file that cannot be read leaves the case as it was, with the refusal beside it', async () => {
    const { store, client, session } = bench();
    await session.open({ name: 'a-right.stl', bytes: good });
    const before = store.get().shown;
    await session.open({ name: 'b-right.stl', bytes: bad });
    expect(store.get().shown).toBe(before);
    expect(store.get().fault).toMatchObject({
      name: 'b-right.stl',
      fault: { code: 'scan/too-short', where: 'whole file', next: expect.stringContaining('Export') },
    });
    expect(store.get().work.state).toBe('idle');
    client.close();
  });

  test('a refused file that interrupted a case: that case is judged to its end', async () => {
    const { store, client, session } = bench((r, hooks) => check(r, { ...hooks, pause: 4 }));
    const first = session.open({ name: 'a-right.stl', bytes: good });
    await until(() => store.get().shown !== undefined);
    await session.open({ name: 'b-right.stl', bytes: bad });
    await first;
    expect(store.get().shown?.summary?.recommended.style).toBe('ITC');
    expect(store.get().shown?.source.name).toBe('a-right.stl');
    expect(store.get().fault?.name).toBe('b-right.stl');
    client.close();
  });

  test('a name that says no side asks; the answer opens it', async () => {
    const { store, client, session } = bench();
    await session.open({ name: 'scan.stl', bytes: good });
    const ask = store.get().ask;
    expect([ask?.name, store.get().fault, store.get().shown]).toEqual(['scan.stl', undefined, undefined]);
    store.send({ type: 'answered' });
    await session.open({ ...(ask as NonNullable<typeof ask>), side: 'left' });
    expect([store.get().shown?.side, store.get().ask]).toEqual(['left', undefined]);
    client.close();
  });

  test('several files, or none, get an answer', async () => {
    const { store, client, session } = bench();
    await session.openFiles([]);
    expect(store.get().fault?.fault.code).toBe('open/no-file');
    await session.openFiles([new File([good], 'a.stl'), new File([good], 'b.stl')]);
    expect(store.get().fault?.fault.code).toBe('open/several');
    client.close();
  });

  test('cancel keeps what is judged; resuming ends with all of it', async () => {
    const { store, client, session } = bench((r, hooks) => check(r, { ...hooks, pause: 4 }));
    const running = session.open({ name: 'a-right.stl', bytes: good });
    await until(() => store.get().shown?.rungs.CIC !== undefined);
    session.cancel();
    await running;
    expect(store.get().work.state).toBe('stopped');
    expect(store.get().shown?.rungs.IIC).toBeDefined();
    expect(store.get().shown?.rungs.ITE).toBeUndefined();
    session.resume();
    await until(() => store.get().shown?.summary !== undefined);
    expect(Object.keys(store.get().shown?.rungs ?? {})).toHaveLength(5);
    client.close();
  });
});

describe('reduce', () => {
  test('a rung that the user chose is not taken away by a recommendation', async () => {
    const { store, client, session } = bench((r, hooks) => check(r, { ...hooks, pause: 4 }));
    const running = session.open({ name: 'a-right.stl', bytes: good });
    await until(() => store.get().shown?.rungs.IIC !== undefined);
    store.send({ type: 'select', style: 'IIC' });
    store.send({ type: 'depth', depth: 3.15 });
    await running;
    expect([store.get().selected, store.get().depth]).toEqual(['IIC', 3.15]);
    client.close();
  });

  test('never changes the state that it is given', () => {
    const start: State = Object.freeze({ ...START, layers: Object.freeze({ ...START.layers }) });
    expect(reduce(start, { type: 'layer', layer: 'cast', visibility: 'hide' }).layers.cast).toBe('hide');
    expect(start.layers.cast).toBe('fade');
    expect(reduce(start, { type: 'depth', depth: start.depth })).toBe(start);
  });
});

test('a sample list keeps what is a sample', () => {
  const sample = { file: 'a.stl', side: 'left', title: 'A', teaches: 'B' };
  expect(samplesIn([sample, null, 3, { ...sample, side: 'up' }, { file: 'b.stl' }])).toEqual([sample]);
  expect(samplesIn({})).toEqual([]);
});
