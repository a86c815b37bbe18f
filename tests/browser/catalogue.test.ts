/** A lab's catalogue on the page: dropped, refused, changed by keyboard, undone, saved, and judged the same outside the page. */
import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { beforeAll, describe, expect, test } from 'vitest';
import { check } from '../../src/engine/index.ts';
import { GENERIC_FILE, readCatalogue } from '../../src/parts/index.ts';
import { VERDICT_WORDS } from '../../src/report/table.ts';
import { axe, drawn, newPage, serving, TOP } from './browser.ts';

const app = serving();
let page: Page;
let troubles: string[];

const SCAN = 'qb-101-right-wide-straight.stl';
/** One style and little effort: the page judges it in a moment. */
const CASE = { format: 'cavum-case', version: 1, scan: SCAN, side: 'right', styles: ['IIC'], effort: 'quick' };
const json = (name: string, data: unknown) => ({ name, mimeType: 'application/json', buffer: Buffer.from(JSON.stringify(data)) });
const LAB = { format: 'cavum-catalogue', version: 1, name: 'North', extends: 'generic' };
/** No canal of ours is 13 mm wide where an instrument of this style ends. */
const WIDE = 13;
const cell = GENERIC_FILE.parts?.find((p) => p.id === 'cell-10');
const wideCell = { ...cell, primitives: [{ shape: 'cylinder', size: [WIDE, WIDE, 3.9], position: [0, 0, -WIDE / 2], along: 'x' }] };

const rung = () => page.locator('.rung:visible');
const judgedAs = (words: string): Promise<unknown> =>
  page.waitForFunction(
    (w) => !document.querySelector('.cancel') && document.querySelector('[data-style=IIC] .word')?.textContent === w,
    words,
  );
const diameter = () => page.locator('[data-place="parts/cell-10/primitives/0/size/0"]');
const ruling = () => page.locator('#case-line .link').textContent();

/** As a person drops it, not through the picker. */
const drop = (name: string, data: unknown): Promise<void> =>
  page.evaluate(
    ([n, text]) => {
      const dataTransfer = new DataTransfer();
      dataTransfer.items.add(new File([text as string], n as string, { type: 'application/json' }));
      document.body.dispatchEvent(new DragEvent('drop', { dataTransfer, bubbles: true, cancelable: true }));
    },
    [name, JSON.stringify(data)],
  );

beforeAll(async () => {
  ({ page, troubles } = await newPage(app.browser()));
  page.setDefaultTimeout(110_000); // a busy machine judges slowly
  await page.goto(app.url());
  await page.waitForSelector('#case-line .link:not(:empty)');
  await page
    .locator('input[aria-label="Scan file"]')
    .setInputFiles([
      { name: SCAN, mimeType: 'model/stl', buffer: readFileSync(`${TOP}sample-scans/${SCAN}`) },
      json('one.case.json', CASE),
    ]);
  await page.waitForFunction(() => document.querySelectorAll('.rung:not([hidden])').length === 1);
  await judgedAs('Fits');
});

describe("a lab's file", () => {
  test('dropped: it rules, by its name, and the verdict follows', async () => {
    expect(await ruling()).toBe('Generic catalogue');
    await drop('north.json', { ...LAB, parts: [wideCell] });
    await judgedAs('Cannot fit');
    expect(await ruling()).toBe('Catalogue: North');
    expect(await page.locator('.catalogue .wide').first().textContent()).toMatch(/^North, from north\.json\. It rules/);
  });

  test('with faults: each is listed with its path, and nothing is judged', async () => {
    const before = await rung().allTextContents();
    await drop('bad.json', { ...LAB, rules: { wal: 1, gap: { value: 9, source: 'x' } }, parts: [{ ...wideCell, kind: 'cel' }] });
    await page.waitForSelector('.fault .flaws li');
    const told = (await page.locator('.fault .flaws li').allTextContents()).join('\n');
    expect(told).toMatch(/^\/rules\/wal: unknown key, did you mean wall\?/);
    expect(told).toMatch(/\/rules\/gap\/value: found 9, a number from 0 to 1 mm is needed/);
    expect(told).toMatch(/\/parts\/0\/kind: found "cel" \(text\), one of cell, .*did you mean cell\?/);
    expect(await page.locator('.fault').textContent()).toContain('The case before is as it was.');
    expect(await axe(page)).toEqual([]);
    await page.keyboard.press('Escape');
    expect([await rung().allTextContents(), await ruling()]).toEqual([before, 'Catalogue: North']);
  });

  test('one way back to the generic one', async () => {
    await page.getByRole('button', { name: 'Back to the generic catalogue' }).click();
    await judgedAs('Fits');
    expect(await ruling()).toBe('Generic catalogue');
    expect(await page.getByRole('button', { name: 'Back to the generic catalogue' }).isVisible()).toBe(false);
  });
});

describe('a part is changed by keyboard', () => {
  const sizeDrawn = () => page.locator('[data-part=cell-10] svg').first().getAttribute('aria-label');

  test('the drawing follows while typing; what cannot be is refused beside the field, and the ladder stays', async () => {
    await page.locator('.part-drawings > summary').focus();
    await page.keyboard.press('Enter');
    await diameter().focus();
    await page.keyboard.press('Control+A');
    await page.keyboard.type('5');
    expect(await sizeDrawn()).toMatch(/3\.90 by 5\.00 mm/);
    await page.keyboard.press('Enter');
    expect(await page.locator('[data-part=cell-10] .wrong:not(:empty)').textContent()).toMatch(/large enough for the cell: 5\.8 mm across/);
    expect([await diameter().getAttribute('aria-invalid'), await rung().locator('.word').textContent()]).toEqual(['true', 'Fits']);
    await page.keyboard.press('Escape');
    expect([await diameter().inputValue(), await diameter().getAttribute('aria-invalid')]).toEqual(['6.10', 'false']);
    expect(await sizeDrawn()).toMatch(/3\.90 by 6\.10 mm/);
  });

  test('a larger cell is judged, marked, undone and redone by keys; the field keeps the focus', async () => {
    await page.keyboard.press('Control+A');
    await page.keyboard.type(String(WIDE));
    await page.keyboard.press('Enter');
    await judgedAs('Cannot fit');
    expect(await page.locator('[data-part=cell-10] .was').allTextContents()).toContain('was 6.10 × 3.90');
    expect(await diameter().evaluate((e) => e === document.activeElement)).toBe(true);
    await page.keyboard.press('Control+z');
    await judgedAs('Fits');
    expect([await diameter().inputValue(), await ruling()]).toEqual(['6.10', 'Generic catalogue']);
    await page.keyboard.press('Control+Shift+z');
    await judgedAs('Cannot fit');
    expect(await diameter().inputValue()).toBe('13.00');
    expect(await page.locator('[data-step=undo]').getAttribute('aria-label')).toBe('Undo: the catalogue');
  });

  test('saved: the library gives the same verdict with that file', async () => {
    const downloaded = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Save catalogue' }).click();
    const download = await downloaded;
    expect(download.suggestedFilename()).toBe('own.json');
    const catalogue = readCatalogue(readFileSync(await download.path()), 'own.json');
    const bytes = new Uint8Array(readFileSync(`${TOP}sample-scans/${SCAN}`));
    const { rungs } = await check({ bytes, name: SCAN, side: 'right', styles: ['IIC'], effort: 'quick', catalogue });
    const word = VERDICT_WORDS[rungs[0]?.verdict ?? 'fits'];
    expect((await rung().locator('.word').textContent())?.toLowerCase()).toBe(word);
    expect(await rung().locator('.rung-reason').textContent()).toMatch(
      new RegExp((rungs[0]?.reasons[0]?.text ?? 'none').slice(1, 40), 'i'),
    );
  });

  test('a value is put back beside itself; with none changed the generic one rules', async () => {
    await page.getByRole('button', { name: /put back 6\.10 × 3\.90 mm/ }).click();
    await judgedAs('Fits');
    expect(await ruling()).toBe('Generic catalogue');
  });
});

test('everything open is accessible, light and dark (axe-core, WCAG 2.2 AA)', async () => {
  for (const words of ['The rules', 'Which parts this style takes', 'Other parts that this style may take']) {
    const summary = page.locator('.catalogue summary', { hasText: words });
    if (await summary.isVisible()) await summary.click();
  }
  await page.locator('[data-place="rules/wall"]').fill('9');
  await page.keyboard.press('Enter');
  for (const colorScheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme });
    await drawn(page);
    expect(await axe(page), colorScheme).toEqual([]);
  }
});

test('a file is chosen for it, too', async () => {
  await page.keyboard.press('Escape');
  const chooser = page.waitForEvent('filechooser');
  await page.getByRole('button', { name: 'Open a catalogue…' }).click();
  await (await chooser).setFiles(json('plain.json', { name: 'no format' }));
  await page.waitForSelector('.fault .flaws li');
  expect(await page.locator('.fault .flaws').textContent()).toMatch(/^\/format: missing/);
});

test('nothing failed on the way', () => expect(troubles).toEqual([]));
