/** Styles judged side by side: the same bytes whatever their number, and no thread left behind whatever happens. */
import { afterAll, afterEach, beforeAll, describe, expect, test, vi } from 'vitest';
import { nodeCrew } from '../../src/cli/crew.ts';
import { run } from '../../src/cli/run.ts';
import { sharedEar, sharedField } from '../../src/crew/share.ts';
import { check, verdictDocument } from '../../src/engine/index.ts';
import type { CheckEvent, CheckRequest, Crew } from '../../src/engine/types.ts';
import { seeded } from '../../src/geometry/random.ts';
import { pt } from '../../src/geometry/vec.ts';
import { Fault } from '../../src/model/fault.ts';
import { GENERIC } from '../../src/parts/index.ts';
import { revivedField } from '../../src/room/field.ts';
import { carveRoom, measureCast } from '../../src/room/index.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';
import { trial } from '../cli/trial.ts';
import { builtMate, counted, standIns } from '../support/mates.ts';
import { bodyOf, canal, USUAL } from '../support/rooms.ts';

/** A synthetic ear with a coarse net: quickly read and judged. */
const light = (seed: number): Pick<CheckRequest, 'bytes' | 'name' | 'side' | 'effort'> => {
  const { mesh, truth } = makeEar(drawEar(seed, { resolution: 0.9 }), seed);
  return { name: 'light.stl', bytes: encodeStl(mesh), side: truth.side, effort: 'quick' };
};
/** The shortest check that has anything to hand out. */
const SHORT: CheckRequest = { ...light(4), styles: ['IIC', 'CIC'] };

const bytesOf = async (request: CheckRequest, crew?: Crew): Promise<string> =>
  JSON.stringify(verdictDocument(await check(request, crew ? { crew } : {})));

let mate: Awaited<ReturnType<typeof builtMate>>;
const threads = (size: number) => counted(nodeCrew(size, mate.script));
beforeAll(async () => {
  mate = await builtMate();
});
afterAll(() => mate.remove());
afterEach(() => vi.unstubAllGlobals());

describe('the same bytes whatever the number', () => {
  const air = { 250: 45, 500: 50, 1000: 55, 2000: 60, 4000: 70 };
  test.each<[string, CheckRequest]>([
    ['a whole ladder', light(4)],
    ['with remedies', { ...light(4), styles: ['IIC', 'CIC'], remedies: true }],
    [
      'an order, a vent, cuts and rules of its own, another seed',
      {
        ...light(4),
        styles: ['CIC', 'ITC'],
        seed: 7,
        cuts: { CIC: { outer: 1.3 } },
        rules: { wall: 0.5 },
        order: { directional: true, receiver: 'small', vent: 1, hearing: { air } },
      },
    ],
  ])('%s: one, and more', async (_title, request) => {
    const [one, ...more] = (request.styles ? [1, 2] : [1, 5]).map((jobs) => ({ jobs, ...threads(jobs) }));
    const alone = await bytesOf(request, one?.crew);
    expect(one?.started()).toBe(0);
    if (request.remedies) expect(alone).toContain('"code":"larger-style"'); // there are some
    for (const { jobs, crew, started, running, done } of more) {
      expect(await bytesOf(request, crew), `${jobs} at a time`).toBe(alone);
      expect(started()).toBe(Math.min(jobs, request.styles?.length ?? 5));
      expect(running()).toBe(0);
      expect(done(), 'all of it was done by mates').toBeGreaterThanOrEqual(request.styles?.length ?? 5);
    }
  });

  test('without shared memory too: everything is copied then', async () => {
    const alone = await bytesOf(SHORT);
    vi.stubGlobal('SharedArrayBuffer', undefined);
    const crew = threads(2);
    expect(await bytesOf(SHORT, crew.crew)).toBe(alone);
    expect(crew.done()).toBe(2);
  });

  test('for one style, and where two are too few, no thread is started', async () => {
    const crew = threads(4);
    await check({ ...SHORT, styles: ['CIC'] }, { crew: crew.crew });
    await check({ ...SHORT, styles: [] }, { crew: crew.crew });
    expect(crew.started()).toBe(0);
  });
});

test('what is told: scan, ear, then each style until its rung, how far it is without going back; each rung as it is in the result', async () => {
  const events: CheckEvent[] = [];
  const { rungs } = await check({ ...SHORT, styles: ['IIC', 'CIC', 'ITC'] }, { crew: threads(2).crew, onEvent: (e) => events.push(e) });
  expect(events.filter((e) => e.type !== 'working' && e.type !== 'rung').map((e) => e.type)).toEqual(['scan', 'ear']);
  expect(events.findIndex((e) => e.type === 'rung')).toBeGreaterThan(events.findIndex((e) => e.type === 'ear'));
  const done = events.flatMap((e) => (e.type === 'working' ? [e.done] : []));
  expect(done).toEqual([...done].sort((a, b) => a - b));
  expect(Math.max(...done)).toBeLessThanOrEqual(1);
  const told = events.flatMap((e) => (e.type === 'rung' ? [e.rung] : []));
  expect(told.map((r) => r.style).sort()).toEqual(['CIC', 'IIC', 'ITC']);
  for (const rung of rungs) {
    expect(told.find((r) => r.style === rung.style)).toBe(rung);
    const last = events.findLastIndex((e) => e.type === 'working' && e.style === rung.style);
    expect(last).toBeGreaterThan(0);
    expect(last).toBeLessThan(events.findIndex((e) => e.type === 'rung' && e.rung === rung));
  }
});

describe('cancelled', () => {
  test.each(['working', 'rung'] as const)(
    'at the first %s of a style: rejects with the reason, tells nothing more, no thread is left',
    async (when) => {
      const crew = threads(2);
      const abort = new AbortController();
      const why = new Error('the user went home');
      let after = 0;
      const job = check(
        { ...SHORT, effort: 'thorough', styles: ['IIC', 'CIC', 'ITC', 'HS'], remedies: true },
        {
          crew: crew.crew,
          signal: abort.signal,
          onEvent: (e) => {
            if (abort.signal.aborted) after++;
            else if (e.type === when && (e.type === 'rung' || (e.type === 'working' && e.style))) abort.abort(why);
          },
        },
      );
      await expect(job).rejects.toBe(why);
      expect(after).toBe(0);
      expect(crew.started()).toBe(2);
      expect(crew.running()).toBe(0);
    },
  );

  test('while the scan is read, and before it began', async () => {
    for (const now of [true, false]) {
      const crew = threads(2);
      const abort = new AbortController();
      const why = new Error('wrong file');
      if (now) abort.abort(why);
      const job = check(SHORT, { crew: crew.crew, signal: abort.signal, onEvent: (e) => e.type === 'scan' && abort.abort(why) });
      await expect(job).rejects.toBe(why);
      expect(crew.running()).toBe(0);
    }
  });

  test('in the midst of a task that never ends', async () => {
    const crew = counted(standIns(2, (message, { serve }) => message.type !== 'task' && serve()));
    const abort = new AbortController();
    const why = new Error('enough');
    const job = check(SHORT, { crew: crew.crew, signal: abort.signal });
    setTimeout(() => abort.abort(why), 2000);
    await expect(job).rejects.toBe(why);
    expect(crew.running()).toBe(0);
  });
});

describe('a mate that goes', () => {
  let alone: string;
  beforeAll(async () => {
    alone = await bytesOf(SHORT);
  });
  const nowhere = new URL('no-such-mate.mjs', import.meta.url);

  test.each<[string, () => Crew]>([
    [
      'cannot be started at all',
      () => ({
        size: 2,
        start: () => {
          throw new Error('no threads here');
        },
      }),
    ],
    ['whose script is missing', () => nodeCrew(2, nowhere)],
    ['breaks when it is told the ear', () => standIns(2, (m, { serve, die }) => (m.type === 'ear' ? die() : serve()))],
    ['breaks at its task', () => standIns(2, (m, { serve, die }) => (m.type === 'task' ? die() : serve()))],
    [
      'breaks in the midst of it',
      () =>
        standIns(2, (m, { serve, die, say }) => {
          if (m.type !== 'task') return serve();
          say({ type: 'working', stage: 'arrange' });
          die();
        }),
    ],
    ['is one of two', () => standIns(2, (m, { serve, die }, number) => (m.type === 'task' && number === 0 ? die() : serve()))],
  ])('%s: its style is judged in the own thread, and the run goes on', async (_title, crewOf) => {
    const crew = counted(crewOf());
    expect(await bytesOf(SHORT, crew.crew)).toBe(alone);
    expect(crew.started()).toBe(2);
    expect(crew.running()).toBe(0);
  });

  test('what cannot be sent is judged in the own thread', async () => {
    const odd = { ...GENERIC, styles: GENERIC.styles.map((s) => ({ ...s, seen: () => s.title })) };
    const crew = threads(2);
    expect(await bytesOf({ ...SHORT, catalogue: odd }, crew.crew)).toBe(alone);
    expect(crew.running()).toBe(0);
  });
});

describe('what a mate throws', () => {
  const throwing = (standIn: Parameters<typeof standIns>[1]) =>
    counted(standIns(2, (m, acts, number) => (m.type === 'task' ? standIn(m, acts, number) : undefined)));
  const WORDS = ['scan/x', 'it is broken', 'at the tip', 'Mend it.', ['a', 'b']] as const;

  test('a Fault is a Fault in the lead, word for word', async () => {
    const crew = throwing((_m, { say }) => say({ type: 'threw', thrown: { type: 'fault', words: WORDS } }));
    const thrown = await check(SHORT, { crew: crew.crew }).catch((e: unknown) => e);
    expect(thrown).toBeInstanceOf(Fault);
    expect(thrown).toMatchObject({ code: 'scan/x', found: 'it is broken', where: 'at the tip', next: 'Mend it.', choices: ['a', 'b'] });
    expect(crew.running()).toBe(0);
  });

  test('a bug keeps its message and its stack, and is no Fault', async () => {
    const stack = 'Error: oh\n    at judge (there)';
    const crew = throwing((_m, { say }) => say({ type: 'threw', thrown: { type: 'bug', message: 'oh', stack } }));
    const thrown = await check(SHORT, { crew: crew.crew }).catch((e: unknown) => e);
    expect(thrown).toBeInstanceOf(Error);
    expect(thrown).not.toBeInstanceOf(Fault);
    expect(thrown).toMatchObject({ message: 'oh', stack });
  });

  test('of several the first style tells, whichever came first; nothing more is handed out', async () => {
    const asked: number[] = [];
    const crew = throwing((m, { say }, number) => {
      if (m.type !== 'task') return;
      asked.push(m.task.style);
      const words = ['x/y', `style ${m.task.style}`, '', '', []] as const;
      setTimeout(() => say({ type: 'threw', thrown: { type: 'fault', words } }), number === 0 ? 50 : 0);
    });
    const job = check({ ...SHORT, styles: ['IIC', 'CIC', 'ITC'] }, { crew: crew.crew });
    await expect(job).rejects.toMatchObject({ found: 'style 0' });
    expect(asked).toEqual([0, 1]);
  });

  test('a kernel that does not load: as without a crew', async () => {
    const crew = threads(2);
    const thrown = await check(SHORT, { crew: crew.crew, kernelUrl: './no-such-kernel.wasm' }).catch((e: unknown) => e);
    expect(thrown).toBeInstanceOf(Fault);
    expect(thrown).toMatchObject({ code: 'kernel/not-loaded' });
    expect(crew.running()).toBe(0);
  });

  test('what the listener throws ends the check, and not the process', async () => {
    for (const type of ['working', 'rung'] as const) {
      const crew = threads(2);
      const why = new Error('the listener fell');
      const onEvent = (e: CheckEvent): void => {
        if (e.type === type && (e.type === 'rung' || (e.type === 'working' && e.style))) throw why;
      };
      await expect(check(SHORT, { crew: crew.crew, onEvent })).rejects.toBe(why);
      expect(crew.running()).toBe(0);
    }
  });
});

test('a field that went to another thread measures to the last bit as it did, SEED=5', () => {
  const cast = canal(1.3, 4000);
  const field = measureCast(cast);
  const { near, ...arrays } = sharedField(field);
  expect(near.packed.buffer).toBeInstanceOf(SharedArrayBuffer);
  const sent = structuredClone({ near, ...arrays });
  const there = revivedField(cast, sent);
  expect(there.near.packed).toBe(sent.near.packed); // used as they are, not made anew
  expect(there.near.tree.boxes).toBe(sent.near.tree.boxes);
  const body = bodyOf(cast, { point: pt(0, 0, -1), normal: pt(0, 0, 1) }, { point: pt(0.4, 0.3, -12), normal: pt(0, 0, -1) }, pt(0, 0, -6));
  const rooms = [carveRoom(field, body, USUAL), carveRoom(there, body, USUAL)] as const;
  const rng = seeded(5);
  for (let k = 0; k < 2000; k++) {
    const [x, y, z] = [14 * rng.next() - 7, 14 * rng.next() - 7, -20 * rng.next() + 2];
    const [a, b] = rooms.map((r) => [r.distance(x, y, z), r.exactDistance(x, y, z), r.field.near.query(x, y, z, -1, Infinity)]);
    expect(b).toEqual(a);
  }
  expect(there.near.tree.mesh).toBe(cast);
  expect(there.near.tree.signedDistance(pt(0, 0, -6))).toBe(field.near.tree.signedDistance(pt(0, 0, -6)));
});

test('an ear in shared memory is the same ear', async () => {
  let seen: CheckEvent | undefined;
  await check(
    { ...SHORT, styles: ['CIC'] },
    {
      onEvent: (e) => {
        if (e.type === 'ear') seen = e;
      },
    },
  );
  if (seen?.type !== 'ear') throw new Error('no ear was told');
  const there = sharedEar(seen.ear);
  expect(there.cast.positions.buffer).toBeInstanceOf(SharedArrayBuffer);
  expect(Buffer.from(there.cast.positions.buffer).equals(Buffer.from(seen.ear.cast.positions.buffer))).toBe(true);
  expect({ ...there, cast: 0 }).toEqual({ ...seen.ear, cast: 0 });
});

describe('--jobs', () => {
  const files = { [`light-${SHORT.side}.stl`]: SHORT.bytes };
  const [path = ''] = Object.keys(files);

  test('asks for so many threads, and writes the same document', async () => {
    const plain = trial(files);
    const crewed = trial(files);
    const asked: (number | undefined)[] = [];
    const crew = threads(2);
    const io = {
      ...crewed.io,
      crew: (size?: number) => {
        asked.push(size);
        return crew.crew;
      },
    };
    const argv = ['fit', path, '--effort', 'quick', '--json', '-'];
    expect(await run([...argv, '--jobs', '2'], io)).toBe(await run(argv, plain.io));
    expect(crewed.said.out).toBe(plain.said.out);
    expect(asked).toEqual([2]);
    expect(crew.started()).toBe(2);
    expect(crew.running()).toBe(0);
  });

  test.each(['0', '-1', 'two', '1.5', '65'])('%s is refused in words', async (jobs) => {
    const { io, said } = trial(files);
    expect(await run(['fit', path, '--jobs', jobs], io)).toBe(2);
    expect(said.talk).toContain('whole number');
  });
});
