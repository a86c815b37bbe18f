/** A catalogue opened, changed, taken back and saved: the page's state and effects, without the page. */
import { afterEach, describe, expect, test } from 'vitest';
import { Desk } from '../../src/app/catalogue-desk.ts';
import { droppedSource } from '../../src/app/dropped.ts';
import { changes } from '../../src/app/history.ts';
import { BLANK } from '../../src/app/own-catalogue.ts';
import { rulesOf, type Source, stylesOf } from '../../src/app/store.ts';
import { readCase } from '../../src/casefile/index.ts';
import type { CheckRequest } from '../../src/engine/types.ts';
import { Fault } from '../../src/model/fault.ts';
import { GENERIC, GENERIC_FILE, readCatalogue } from '../../src/parts/index.ts';
import type { Check } from '../../src/worker/serve.ts';
import { check } from '../support/standin.ts';
import { good, wired } from './wired.ts';

const lab = { ...BLANK, name: 'North', rules: { wall: { value: 0.7, source: 'our printer' } } };
const two = { ...GENERIC_FILE, name: 'Two', styles: GENERIC_FILE.styles?.slice(2, 4) };
const fileOf = (data: unknown, name: string): File => new File([JSON.stringify(data)], name);
const DIAMETER = 'parts/cell-10/primitives/0/size/0';

let close = (): void => {};
afterEach(() => close());

/** The page without its screens, with the case shown. `asked`: what the engine was asked for. */
async function page() {
  const asked: CheckRequest[] = [];
  const saved: [name: string, text: string][] = [];
  const engine: Check = (request, hooks) => {
    asked.push(request);
    return check(request, hooks);
  };
  const { store, client, session } = wired(engine, (name, text) => saved.push([name, text]));
  close = () => client.close();
  await session.open({ name: 'a-right.stl', bytes: good });
  const settle = async (): Promise<void> => {
    for (let i = 0; i < 400; i++) {
      await new Promise((resolve) => setTimeout(resolve, 5));
      if (store.get().work.state !== 'running') return;
    }
    throw new Error('it did not come to rest');
  };
  const source = (): Source => store.get().shown?.source as Source;
  return { store, session, asked, saved, settle, source, desk: new Desk(store, session) };
}

describe('opened', () => {
  test('a file rules over the case shown, is told to the engine, and is undone and redone', async () => {
    const { store, session, asked, settle, source } = await page();
    await session.openFiles([fileOf(lab, 'north.json')]);
    expect(source().catalogue?.catalogue.name).toBe('North');
    expect(asked.at(-1)?.catalogue).toEqual(readCatalogue(JSON.stringify(lab), 'north.json'));
    session.step(-1);
    await settle();
    expect([source().catalogue, asked.at(-1)?.catalogue]).toEqual([undefined, undefined]);
    session.step(1);
    await settle();
    expect(source().catalogue?.catalogue.rules.wall).toBe(0.7);
    session.step(1); // nothing more to redo
    expect(store.get().work.state).toBe('idle');
  });

  test('with faults: all told with their paths, and everything stays as it was', async () => {
    const { store, session, asked } = await page();
    const before = store.get().shown;
    await session.openFiles([fileOf({ ...lab, rules: { wal: 1, gap: { value: 9, source: 'x' } } }, 'bad.json')]);
    expect(store.get().shown).toBe(before);
    expect([asked.length, store.get().history.steps.length, store.get().work.state]).toEqual([1, 1, 'idle']);
    expect(store.get().fault).toMatchObject({
      name: 'bad.json',
      fault: {
        found: '2 faults',
        flaws: ['/rules/wal: unknown key, did you mean wall?', '/rules/gap/value: found 9, a number from 0 to 1 mm is needed'],
      },
    });
  });

  test('what is said to be a catalogue is examined as one, whatever it holds', async () => {
    const { store, session } = await page();
    await session.openCatalogue([fileOf({ name: 'x' }, 'no-format.json')]);
    expect(store.get().fault?.fault.flaws?.[0]).toMatch(/^\/format: missing/);
  });

  test('fewer styles: the ladder has those, and one of them is selected', async () => {
    const { store, session, source } = await page();
    store.send({ type: 'select', style: 'IIC' });
    await session.openFiles([fileOf(two, 'two.json')]);
    expect(stylesOf(source())).toEqual(['ITC', 'HS']);
    expect(store.get().selected).not.toBe('IIC');
  });

  test('it stays for the next scan; a case that names none goes by ours', async () => {
    const { session, source } = await page();
    await session.openFiles([fileOf(lab, 'north.json')]);
    await session.openFiles([new File([new Uint8Array(300)], 'b-left.stl')]);
    expect([source().name, source().catalogue?.catalogue.name]).toEqual(['b-left.stl', 'North']);
    await session.openFiles([fileOf({ format: 'cavum-case', version: 1, scan: 'b-left.stl', side: 'left' }, 'b.case.json')]);
    expect(source().catalogue).toBeUndefined();
  });
});

describe('a case that names a catalogue', () => {
  const named = { format: 'cavum-case', version: 1, scan: 'a-right.stl', side: 'right', catalogue: 'north.json', rules: { gap: 0.2 } };
  const scan = new File([good], 'a-right.stl');
  const files = (...list: File[]) => droppedSource(list, undefined);

  test('takes it when both are opened with the scan; its own rules stand over the catalogue', async () => {
    const source = await files(fileOf(named, 'a.case.json'), scan, fileOf(lab, 'north.json'));
    expect([source.catalogue?.from, source.also?.rules]).toEqual(['north.json', { gap: 0.2 }]);
    expect(rulesOf({ source })).toEqual({ ...GENERIC.rules, wall: 0.7, gap: 0.2 });
  });

  test('is refused without it, or with one of another name', async () => {
    await expect(files(fileOf(named, 'a.case.json'), scan)).rejects.toThrow(
      /takes the catalogue north\.json.*Drop the case together with north\.json/,
    );
    await expect(files(fileOf(named, 'a.case.json'), scan, fileOf(lab, 'south.json'))).rejects.toThrow(/north\.json/);
  });

  test('is followed where that catalogue rules already', async () => {
    const { session, source } = await page();
    await session.openFiles([fileOf(lab, 'north.json')]);
    await session.openFiles([fileOf(named, 'a.case.json')]);
    expect([source().catalogue?.catalogue.name, source().also?.rules]).toEqual(['North', { gap: 0.2 }]);
  });

  test('two of a kind, or more than belong together, are refused', async () => {
    await expect(files(scan, fileOf(lab, 'a.json'), fileOf(lab, 'b.json'))).rejects.toThrow(Fault);
    await expect(files(scan, scan)).rejects.toThrow(/2 files of one kind/);
    await expect(files(fileOf(lab, 'a.json'))).rejects.toThrow(/a catalogue without a scan.*Open the scan first, then the catalogue/);
  });

  test('is what is saved: the case names the file that the catalogue is saved as', async () => {
    const { session, saved, desk, settle } = await page();
    desk.type(DIAMETER, '6,50');
    desk.commit(); // it is saved though it is still being judged
    session.saveCase();
    session.saveCatalogue();
    await settle();
    const [[, text], [name, catalogue]] = saved as [[string, string], [string, string]];
    expect(readCase(text, 'saved').catalogue).toBe(name);
    const again = await files(scan, new File([text], 'a.case.json'), new File([catalogue], name));
    expect(again.catalogue?.catalogue.styles[0]?.slots[0]).toMatchObject({ part: { primitives: [{ size: [6.5, 6.5, 3.9] }, {}] } });
  });
});

describe('changed by typing', () => {
  test('nothing is judged before it is sound; then all of it is, in one step of the history', async () => {
    const { store, asked, desk, settle, source } = await page();
    desk.type(DIAMETER, '5'); // below the cell's 5.8
    desk.commit();
    expect(desk.refusals).toEqual(['Battery 10, primitives: no primitive is large enough for the cell: 5.8 mm across and 3.6 mm high']);
    expect(desk.refusalsOf(DIAMETER)).toHaveLength(1);
    desk.type('rules/wall', '0.5');
    desk.commit();
    expect([asked.length, desk.refusalsOf('rules/wall')]).toEqual([1, []]);
    desk.type(DIAMETER, '6.4');
    desk.commit();
    desk.commit(); // leaving the field says the same again
    await settle();
    expect(asked).toHaveLength(2);
    expect(source().catalogue?.edits).toEqual({ [DIAMETER]: 6.4, 'rules/wall': 0.5 });
    expect([store.get().history.steps.length, desk.refusals, desk.textOf(DIAMETER)]).toEqual([2, [], '6.40']);
  });

  test('what is put back is ours again, and without any change ours rules', async () => {
    const { desk, settle, source } = await page();
    desk.type(DIAMETER, '6.4');
    desk.type('parts/receiver-small/margin', '0.5');
    desk.commit();
    await settle();
    expect([desk.isEdited(DIAMETER), desk.before(DIAMETER)]).toEqual([true, '6.10']);
    desk.putBack([DIAMETER]);
    await settle();
    expect(source().catalogue?.edits).toEqual({ 'parts/receiver-small/margin': 0.5 });
    desk.type('parts/receiver-small/margin', ''); // as the rule has it
    desk.commit();
    await settle();
    expect(source().catalogue).toBeUndefined();
  });

  test('the same number written otherwise is no change', async () => {
    const { asked, desk } = await page();
    desk.type(DIAMETER, '6,1');
    desk.commit();
    expect([asked.length, desk.textOf(DIAMETER), desk.isEdited(DIAMETER)]).toEqual([1, '6.10', false]);
  });

  test('a change made while another is being judged keeps both, and an undo takes one step at a time', async () => {
    const { session, desk, settle, source, store } = await page();
    desk.type(DIAMETER, '6.4');
    desk.commit();
    session.order({ receiver: 'medium' });
    await settle();
    expect([source().order, Object.keys(source().catalogue?.edits ?? {})]).toEqual([{ receiver: 'medium' }, [DIAMETER]]);
    desk.type(DIAMETER, '6.6');
    desk.commit();
    await settle();
    expect(store.get().history.steps).toHaveLength(3);
    session.step(-1);
    session.step(-1); // before the first is shown
    await settle();
    expect([source().order, source().catalogue, desk.textOf(DIAMETER)]).toEqual([undefined, undefined, '6.10']);
  });

  test('a part of the lab is changed within its file, and what was typed goes when another catalogue comes', async () => {
    const { session, desk, settle, source } = await page();
    await session.openFiles([fileOf(lab, 'north.json')]);
    desk.type('rules/wall', '0.75');
    desk.commit();
    await settle();
    expect(source().catalogue).toMatchObject({ from: 'north.json', edits: { 'rules/wall': 0.75 }, file: { name: 'North' } });
    desk.type('rules/gap', '7');
    session.catalogue(undefined);
    await settle();
    expect([desk.textOf('rules/gap'), desk.textOf('rules/wall')]).toEqual(['0.10', '0.60']);
  });
});

test('a step says what it changes', () => {
  const source: Source = { name: 'a', bytes: good, side: 'left' };
  expect(changes(source, { ...source, side: 'right', order: {} })).toEqual(['the side', 'the order']);
});
