/** The bench as a user meets it: a sample judged at once, by eye, by keyboard, with bad input, cancelled, on paper. */
import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { check } from '../../src/engine/index.ts';
import { foundSpare } from '../../src/model/figures.ts';
import { VERDICT_WORDS } from '../../src/report/table.ts';
import { axe, drawn, judged, launch, newPage, pixels, serving, TOP } from './browser.ts';

const app = serving();

const STYLES = ['IIC', 'CIC', 'ITC', 'HS', 'ITE'];
const WORDS = /fits|tight|cannot fit|unsettled|not judged/i;
const rungText = (page: Page): Promise<string[]> => page.locator('.rung').allTextContents();

const { opened } = app;

/** The scene's own pixels: how many colours, and what share is not empty. */
async function picture(page: Page): Promise<{ colours: number; covered: number }> {
  const all = await pixels(page);
  const seen = all.filter((x) => x >>> 24 >= 8);
  return { colours: new Set(seen.map((x) => x & 0xffffff)).size, covered: seen.length / all.length };
}

describe('a sample', () => {
  let page: Page;
  let troubles: string[];
  let requests: string[];
  beforeAll(async () => {
    ({ page, troubles, requests } = await opened());
  });
  afterAll(() => page?.context().close());

  test('opens and is judged: five rungs, an arrangement, a section; nothing fails, nothing leaves the page', async () => {
    const rungs = await rungText(page);
    expect(await page.locator('.rung-name b').allTextContents()).toEqual(STYLES);
    for (const text of rungs) expect(text).toMatch(WORDS);
    await page.click('[data-style=ITE]');
    await drawn(page);
    expect(await page.locator('.details table tbody tr').count()).toBeGreaterThanOrEqual(3);
    expect(await page.locator('.slice-view .body-line').count()).toBe(1);
    expect(await page.locator('.slice-view .room').count()).toBeGreaterThanOrEqual(1);
    expect(await page.locator('.tag:visible').count()).toBeGreaterThanOrEqual(3);
    expect(troubles).toEqual([]);
    const origin = new URL(app.url()).origin;
    for (const url of requests) expect(url.startsWith(origin) || url.startsWith('data:') || url.startsWith(`blob:${origin}`)).toBe(true);
  });

  test('is really drawn: more than 100 colours, more than 5 % of the picture (and not on a blank canvas)', async () => {
    const seen = await picture(page);
    expect(seen.colours).toBeGreaterThan(100);
    expect(seen.covered).toBeGreaterThan(0.05);
    for (const layer of ['cast', 'body', 'parts', 'section']) await page.selectOption(`[data-layer=${layer}]`, 'hide');
    await drawn(page);
    expect(await picture(page)).toEqual({ colours: 0, covered: 0 });
    for (const [layer, how] of Object.entries({ cast: 'fade', body: 'fade', parts: 'show', section: 'fade' }))
      await page.selectOption(`[data-layer=${layer}]`, how);
  });

  test('labels lie within the stage and never one over another', async () => {
    await page.click('[data-style=ITE]');
    for (const view of ['Lateral', 'Anterior', 'Superior']) {
      await page.click(`[data-view=${view}]`);
      await drawn(page);
      const boxes = await page.$$eval('.tag', (tags) =>
        tags.filter((t) => !(t as HTMLElement).hidden).map((t) => t.getBoundingClientRect().toJSON() as DOMRect),
      );
      expect(boxes.length).toBeGreaterThanOrEqual(3);
      for (const [i, a] of boxes.entries()) {
        for (const b of boxes.slice(i + 1))
          expect(a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top).toBe(true);
      }
    }
  });

  test('a right ear faces right and a left ear faces left when seen from outside (anatomy: both faces look forward)', async () => {
    const fore = async (): Promise<string | null> => {
      await page.click('[data-view=Lateral]');
      await drawn(page);
      return page.textContent('.compass.right');
    };
    const pick = async (side: 'left' | 'right'): Promise<void> => {
      await page.click('text=Sample scans');
      const button = page.locator(`.samples [data-side=${side}]`).last();
      const title = await button.locator('b').textContent();
      await button.click();
      await page.waitForFunction((t) => document.querySelector('#case-title')?.textContent === t, title, { timeout: 60_000 });
      await judged(page);
    };
    await pick('left');
    expect(await fore()).toBe('Posterior');
    await pick('right');
    expect(await fore()).toBe('Anterior');
  });

  test('going round the rungs leaves nothing behind on the graphics card', async () => {
    const count = async (): Promise<number> => {
      for (const style of STYLES) {
        await page.click(`[data-style=${style}]`);
        await drawn(page);
      }
      await drawn(page);
      return Number(await page.getAttribute('.stage canvas', 'data-geometries'));
    };
    const first = await count();
    for (let i = 0; i < 4; i++) await count();
    expect(await count()).toBe(first);
    expect(first).toBeGreaterThan(0);
  });
});

test('the page and the engine in Node say the same, to the last figure shown', async () => {
  const [sample] = JSON.parse(readFileSync(`${TOP}sample-scans/index.json`, 'utf8')) as { file: string; side: 'left' | 'right' }[];
  if (!sample) throw new Error('no sample');
  const { page } = await opened();
  const shown = await page.$$eval('.rung', (rungs) =>
    rungs.map((r) => [
      r.getAttribute('data-style'),
      r.querySelector('.word')?.textContent?.toLowerCase(),
      r.querySelector('.spare')?.firstChild?.textContent ?? '',
    ]),
  );
  const { rungs } = await check({ bytes: readFileSync(`${TOP}sample-scans/${sample.file}`), name: sample.file, side: sample.side });
  expect(shown).toEqual(rungs.map((r) => [r.style, VERDICT_WORDS[r.verdict], r.found === undefined ? '' : foundSpare(r.found)]));
  await page.context().close();
});

describe('accessibility', () => {
  test.each([
    ['light', false],
    ['dark', true],
  ] as const)('axe finds nothing serious, %s: bench, sample list, refusal', async (_, dark) => {
    const { page } = await opened({ dark });
    expect(await axe(page)).toEqual([]);
    await page.click('text=Sample scans');
    expect(await axe(page)).toEqual([]);
    await page.keyboard.press('Escape');
    await page.setInputFiles('input[type=file]', { name: 'letter-right.stl', mimeType: 'model/stl', buffer: Buffer.from('Dear lab,\n') });
    await page.waitForSelector('.fault');
    expect(await axe(page)).toEqual([]);
    await page.context().close();
  });

  test('by keyboard alone: skip link, side, samples, rungs, views, section depth', async () => {
    const { page } = await opened();
    await page.keyboard.press('Tab');
    expect(await page.evaluate(() => document.activeElement?.className)).toBe('skip');
    const reach = async (selector: string): Promise<void> => {
      for (let i = 0; i < 40; i++) {
        if (await page.evaluate((s) => document.activeElement?.matches(s), selector)) return;
        await page.keyboard.press('Tab');
      }
      throw new Error(`Tab does not come to ${selector}`);
    };
    await reach('.rung');
    await page.keyboard.press('Home');
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('ArrowDown');
    expect(await page.getAttribute('.rung[aria-checked=true]', 'data-style')).toBe('ITC');
    expect(await page.evaluate(() => document.activeElement?.getAttribute('data-style'))).toBe('ITC');
    expect(await page.locator('.rung[tabindex="0"]').count()).toBe(1);
    await reach('.stage canvas');
    const before = await page.getAttribute('.views [aria-pressed=true]', 'data-view').catch(() => null);
    await reach('.views [data-view=Lateral]');
    await page.keyboard.press('Enter');
    await drawn(page);
    expect(await page.getAttribute('.views [aria-pressed=true]', 'data-view')).toBe('Lateral');
    expect(before).not.toBe('Lateral');
    await reach('.slice-head input');
    await page.keyboard.press('Control+A');
    await page.keyboard.type('3.15');
    await page.keyboard.press('Enter');
    expect(await page.getAttribute('.slice-head input', 'aria-valuenow')).toBe('3.15');
    await page.keyboard.press('ArrowUp');
    expect(await page.getAttribute('.slice-head input', 'aria-valuenow')).toBe('3.25');
    await drawn(page);
    expect(await page.getAttribute('.slice-view svg', 'aria-label')).toContain('3.25 mm deep');
    await page.context().close();
  });
});

describe('opening a scan of one’s own', () => {
  const sample = JSON.parse(readFileSync(`${TOP}sample-scans/index.json`, 'utf8'))[0] as { file: string; side: string };
  const bytes = readFileSync(`${TOP}sample-scans/${sample.file}`);

  test('what cannot be read says what, where and what next, and the case stays as it was', async () => {
    const { page } = await opened();
    const title = await page.textContent('#case-title');
    const rungs = await rungText(page);
    const seen = await picture(page);
    await page.setInputFiles('input[type=file]', { name: 'cut-right.stl', mimeType: 'model/stl', buffer: bytes.subarray(0, 200_000) });
    await page.waitForSelector('.fault');
    const said = (await page.textContent('.fault')) ?? '';
    for (const word of ['cut-right.stl', 'What', 'Where', 'Next', 'as it was']) expect(said).toContain(word);
    expect(await page.textContent('#case-title')).toBe(title);
    expect(await rungText(page)).toEqual(rungs);
    expect(await picture(page)).toEqual(seen);
    await page.keyboard.press('Escape');
    expect(await page.locator('.fault').count()).toBe(0);
    await page.context().close();
  });

  test('dropped anywhere; two at once get an answer', async () => {
    const { page } = await opened();
    const drop = (files: { name: string; text: string }[]): Promise<void> =>
      page.evaluate((list) => {
        const data = new DataTransfer();
        for (const { name, text } of list) data.items.add(new File([text], name));
        document.querySelector('.details')?.dispatchEvent(new DragEvent('drop', { dataTransfer: data, bubbles: true, cancelable: true }));
      }, files);
    await drop([{ name: 'a-left.stl', text: 'solid a\nendsolid a\n' }]);
    await page.waitForSelector('.fault:has-text("a-left.stl")');
    await drop([
      { name: 'a-left.stl', text: 'x' },
      { name: 'b-left.stl', text: 'y' },
    ]);
    await page.waitForSelector('.fault:has-text("one scan at a time")');
    await page.context().close();
  });

  test('a name that says no side asks which ear; the answer is judged', async () => {
    const { page } = await opened();
    await page.setInputFiles('input[type=file]', { name: 'impression.stl', mimeType: 'model/stl', buffer: bytes });
    await page.waitForSelector('dialog[open]');
    expect(await page.textContent('dialog')).toContain('impression.stl');
    expect(await axe(page)).toEqual([]);
    await page.click(`dialog button:has-text("${sample.side === 'left' ? 'Left' : 'Right'} ear")`);
    await page.waitForFunction(() => document.querySelector('#case-title')?.textContent === 'impression.stl');
    await judged(page);
    expect(await page.locator('dialog[open]').count()).toBe(0);
    await page.context().close();
  });

  test('judging can be cancelled; what is judged stays, and the rest can be judged later', async () => {
    const { page, troubles } = await newPage(app.browser());
    await page.goto(app.url());
    await page.waitForSelector('.rung[data-style=IIC]:not(.waiting):not(.running)', { timeout: 60_000 });
    const took = await page.evaluate(async () => {
      const clicked = performance.now();
      (document.querySelector('.cancel') as HTMLElement).click();
      while (!document.querySelector('.resume')) await new Promise((resolve) => setTimeout(resolve, 5));
      return performance.now() - clicked;
    });
    console.log(`stopped after ${took.toFixed(0)} ms`);
    expect(took).toBeLessThan(3000); // half a second where the machine has time; this only tells a hang from a stop
    expect(await page.locator('.rung.waiting').count()).toBeGreaterThanOrEqual(1);
    expect((await rungText(page))[0]).toMatch(WORDS);
    await page.click('.resume');
    await judged(page);
    expect(troubles).toEqual([]);
    await page.context().close();
  });
});

test('without WebGL the page says so, and verdicts, section and tables are there', async () => {
  const plain = await launch(['--disable-3d-apis']);
  try {
    const { page } = await newPage(plain);
    await page.goto(app.url());
    await judged(page);
    expect(await page.textContent('.no-3d')).toContain('3D view not available');
    for (const text of await rungText(page)) expect(text).toMatch(WORDS);
    await page.click('[data-style=ITE]');
    await drawn(page);
    expect(await page.locator('.slice-view .cast-line').count()).toBeGreaterThanOrEqual(1);
    expect(await page.locator('.details table tbody tr').count()).toBeGreaterThanOrEqual(3);
    expect(await page.locator('.stage canvas').count()).toBe(0);
  } finally {
    await plain.close();
  }
});

test('printing gives paper with the ladder, the picture and the tables', async () => {
  const { page } = await opened();
  const pdf = await page.pdf({ preferCSSPageSize: true, printBackground: true });
  expect(pdf.subarray(0, 5).toString()).toBe('%PDF-');
  expect(pdf.length).toBeGreaterThan(30_000);
  await page.emulateMedia({ media: 'print' });
  for (const hidden of ['.open', '.controls', '.foot']) expect(await page.locator(hidden).isVisible()).toBe(false);
  for (const shown of ['.rungs', '.stage canvas', '.slice-view svg', '.details']) expect(await page.locator(shown).isVisible()).toBe(true);
  await page.context().close();
});
