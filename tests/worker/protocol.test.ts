/** Both ends of the worker protocol over a MessageChannel, with an engine whose answers are known. */
import { afterEach, expect, test } from 'vitest';
import { STYLES } from '../../src/model/parts.ts';
import { PATIENCE, type Told, WorkerClient, type WorkerWire } from '../../src/worker/client.ts';
import type { FromWorker, ToWorker, Wire } from '../../src/worker/protocol.ts';
import { type Check, serve } from '../../src/worker/serve.ts';
import { check } from '../support/standin.ts';

const open: WorkerClient[] = [];
afterEach(() => {
  for (const client of open.splice(0)) client.close();
});

/** A client whose "workers" run in this thread. */
function clientOf(engine: Check): { client: WorkerClient; started: () => number } {
  let started = 0;
  const client = new WorkerClient(() => {
    started++;
    const { port1, port2 } = new MessageChannel();
    serve(port2 as unknown as Wire<FromWorker, ToWorker>, engine);
    port1.start();
    port2.start();
    const end = () => {
      port1.close();
      port2.close();
    };
    return Object.assign(port1, { terminate: end }) as unknown as WorkerWire;
  });
  open.push(client);
  return { client, started: () => started };
}

const request = { bytes: new Uint8Array(200), name: 'case-right.stl' };
const slow: Check = (r, hooks) => check(r, { ...hooks, pause: 30 });

test('a job tells scan, ear and five rungs with their pictures, then ends', async () => {
  const { client } = clientOf(check);
  const told: Told[] = [];
  const outcome = await client.judge(request, (t) => told.push(t));
  expect(told.filter((t) => t.type !== 'working').map((t) => t.type)).toEqual(['scan', 'ear', 'rung', 'rung', 'rung', 'rung', 'rung']);
  const rungs = told.filter((t) => t.type === 'rung');
  expect(rungs.map((r) => r.rung.style)).toEqual([...STYLES]);
  for (const r of rungs) expect(r.picture !== undefined).toBe(r.rung.body !== undefined);
  if (outcome.type !== 'done') throw new Error(outcome.type);
  expect(outcome.summary.recommended.style).toBe('ITC');
  expect(outcome.summary.rungs.map((r) => r.ceiling)).toContain(Number.POSITIVE_INFINITY); // survives the journey
  expect(client.busy).toBe(false);
});

test('a refusal arrives in words, and the same worker goes on', async () => {
  const { client, started } = clientOf(check);
  const refused = await client.judge({ ...request, bytes: new Uint8Array(3) }, () => {});
  expect(refused).toMatchObject({ type: 'fault', fault: { code: 'scan/too-short', where: 'whole file' } });
  expect((await client.judge(request, () => {})).type).toBe('done');
  expect(started()).toBe(1);
});

test('anything else that is thrown is a bug: it keeps its stack, and the worker is replaced', async () => {
  const broken: Check = () => Promise.reject(new RangeError('index 7 of 5'));
  const { client, started } = clientOf(broken);
  const outcome = await client.judge(request, () => {});
  expect(outcome).toMatchObject({ type: 'bug', message: 'index 7 of 5' });
  if (outcome.type === 'bug') expect(outcome.stack).toContain('RangeError');
  expect(started()).toBe(2);
});

test('cancel stops a willing job without a new worker, and nothing is told afterwards', async () => {
  const { client, started } = clientOf(slow);
  const told: Told[] = [];
  const running = client.judge(request, (t) => {
    told.push(t);
    if (t.type === 'ear') client.cancel();
  });
  expect((await running).type).toBe('cancelled');
  expect(told.filter((t) => t.type === 'rung')).toHaveLength(0);
  expect(started()).toBe(1);
});

test('a job that does not stop is ended with its worker after the client’s patience', async () => {
  const deaf: Check = () => new Promise(() => {});
  const { client, started } = clientOf(deaf);
  const running = client.judge(request, () => {});
  const before = performance.now();
  client.cancel();
  expect((await running).type).toBe('cancelled');
  expect(performance.now() - before).toBeGreaterThanOrEqual(PATIENCE - 20);
  expect(started()).toBe(2);
});

test('a new job takes over: the old one is cancelled and says no more', async () => {
  const { client } = clientOf(slow);
  const old: Told[] = [];
  const first = client.judge(request, (t) => old.push(t));
  await new Promise((resolve) => setTimeout(resolve, 60));
  const second = client.judge({ ...request, name: 'other-left.stl' }, () => {});
  expect((await first).type).toBe('cancelled');
  const count = old.length;
  expect((await second).type).toBe('done');
  expect(old).toHaveLength(count);
});
