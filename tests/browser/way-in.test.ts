/** The way in, as a user meets it: played, scrubbed by keyboard, left for another style, on paper. */
import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { drawn, judged, type PageOptions, pixels, serving, TOP } from './browser.ts';

const app = serving();

async function opened(options: PageOptions = {}) {
  const watched = await app.opened(options);
  await watched.page.click('[data-style=ITC]');
  await drawn(watched.page);
  return watched;
}

const SLIDER = '.way-in input';
const BUTTON = '.way-in button';
const IN_PLACE = 'All parts in their place';
const spoken = async (page: Page): Promise<string> => (await page.getAttribute(SLIDER, 'aria-valuetext')) ?? '';
interface Said {
  readonly name: string;
  readonly share: number;
  readonly left: number; // mm
  readonly step: number;
  readonly of: number;
}
async function said(page: Page): Promise<Said> {
  const m = /^(.+), (\d+) % of the way in, (\d+\.\d\d) mm to go, (\d+) of (\d+)$/.exec(await spoken(page));
  if (!m) throw new Error(`the slider says "${await spoken(page)}"`);
  return { name: m[1] as string, share: Number(m[2]), left: Number(m[3]), step: Number(m[4]), of: Number(m[5]) };
}

const differing = (a: readonly number[], b: readonly number[]): number => a.reduce((n, x, i) => n + (x === b[i] ? 0 : 1), 0);

/** Where the label of a part points to in the picture, px: its leader ends there. */
const pointed = (page: Page, name: string): Promise<{ x: number; y: number } | undefined> =>
  page.evaluate((wanted) => {
    const seen = [...document.querySelectorAll<HTMLElement>('.tag')].filter((t) => !t.hidden);
    const circle = document.querySelectorAll('.leaders circle')[seen.findIndex((t) => t.textContent === wanted)];
    return circle ? { x: Number(circle.getAttribute('cx')), y: Number(circle.getAttribute('cy')) } : undefined;
  }, name);

describe('by keyboard', () => {
  let page: Page;
  let troubles: string[];
  let home: number[];
  beforeAll(async () => {
    ({ page, troubles } = await opened());
    home = await pixels(page);
  });
  afterAll(() => page?.context().close());

  test('button and slider are reached by Tab; nothing plays by itself', async () => {
    expect(await spoken(page)).toBe(IN_PLACE);
    await page.focus('.stage canvas');
    await page.keyboard.press('Tab');
    expect(await page.evaluate((s) => document.activeElement?.matches(s), BUTTON)).toBe(true);
    await page.keyboard.press('Tab');
    expect(await page.evaluate((s) => document.activeElement?.matches(s), SLIDER)).toBe(true);
  });

  test('Home shows the first part outside, the others not at all, the shell open', async () => {
    await page.focus(SLIDER);
    await page.keyboard.press('Home');
    await drawn(page);
    const first = await said(page);
    expect([first.share, first.step]).toEqual([0, 1]);
    expect(first.left).toBeGreaterThan(5);
    expect(first.of).toBe(await page.locator('.details .steps li').count());
    expect(await page.locator('.tag:visible').allTextContents()).toEqual([first.name]);
    expect(differing(await pixels(page), home)).toBeGreaterThan(1000);
  });

  test('an arrow key moves it by a hundredth of the whole: in words, in the picture, and back', async () => {
    const before = await said(page);
    const [there, seen] = [await pointed(page, before.name), await pixels(page)];
    for (let i = 0; i < 20; i++) await page.keyboard.press('ArrowRight');
    await drawn(page);
    const after = await said(page);
    expect([after.name, after.share]).toEqual([before.name, 20 * before.of]);
    expect(after.left).toBeLessThan(before.left - 3);
    const now = await pointed(page, before.name);
    if (!there || !now) throw new Error('no label');
    // Seen from the front of a right ear, medial is to the right: in is rightwards.
    expect(now.x - there.x).toBeGreaterThan(20);
    expect(differing(await pixels(page), seen)).toBeGreaterThan(200);
    for (let i = 0; i < 20; i++) await page.keyboard.press('ArrowLeft');
    await drawn(page);
    expect(await said(page)).toEqual(before);
    expect(await pixels(page)).toEqual(seen);
  });

  test('page keys go from part to part; what is in stays in; the last one ends where all is as before', async () => {
    const names: string[] = [];
    const { of } = await said(page);
    for (let k = 1; k <= of; k++) {
      const { name, step } = await said(page);
      expect(step).toBe(k);
      names.push(name);
      await page.keyboard.press('PageDown'); // at a part's start it goes to the one before
      await page.keyboard.press('PageUp');
      if (k === 1) await page.keyboard.press('Home');
      await page.keyboard.press('PageUp');
    }
    await drawn(page);
    expect(new Set(names).size).toBe(of);
    expect(names.at(-1)).toMatch(/^Faceplate with /);
    expect(await spoken(page)).toBe(IN_PLACE);
    expect(await pixels(page)).toEqual(home);
    expect(troubles).toEqual([]);
  });

  test('a solid body and an open section make way while parts move, and come back', async () => {
    await page.selectOption('[data-layer=body]', 'show');
    await page.selectOption('[data-layer=section]', 'along');
    await drawn(page);
    const [opaque, glass] = [await pixels(page), home];
    expect(differing(opaque, glass)).toBeGreaterThan(1000);
    await page.focus(SLIDER);
    await page.keyboard.press('Home');
    for (let i = 0; i < 20; i++) await page.keyboard.press('ArrowRight');
    await drawn(page);
    const { name } = await said(page);
    expect(await pointed(page, name)).toBeDefined();
    await page.keyboard.press('End');
    await drawn(page);
    expect(await pixels(page)).toEqual(opaque);
    await page.selectOption('[data-layer=body]', 'fade');
    await page.selectOption('[data-layer=section]', 'fade');
    await drawn(page);
    expect(await pixels(page)).toEqual(home);
  });

  test('another style starts with all in place; so does coming back', async () => {
    await page.focus(SLIDER);
    await page.keyboard.press('Home');
    await page.click('[data-style=ITE]');
    await drawn(page);
    expect(await spoken(page)).toBe(IN_PLACE);
    await page.click('[data-style=ITC]');
    await drawn(page);
    expect(await spoken(page)).toBe(IN_PLACE);
    expect(await pixels(page)).toEqual(home);
  });

  test('on paper the parts are in their place, and the player is not there', async () => {
    await page.focus(SLIDER);
    await page.keyboard.press('Home');
    await drawn(page);
    const outside = await pixels(page);
    await page.evaluate(() => dispatchEvent(new Event('beforeprint')));
    expect(await pixels(page)).toEqual(home);
    await page.evaluate(() => dispatchEvent(new Event('afterprint')));
    await drawn(page);
    expect(await pixels(page)).toEqual(outside);
    await page.emulateMedia({ media: 'print' });
    expect(await page.locator('.way-in').isVisible()).toBe(false);
    await page.emulateMedia({ media: 'screen' });
    await page.keyboard.press('End');
  });

  test('going through it again and again leaves nothing on the graphics card', async () => {
    const held = async (): Promise<number> => {
      for (const key of ['Home', 'ArrowRight', 'End']) {
        await page.focus(SLIDER);
        await page.keyboard.press(key);
        await drawn(page);
      }
      return Number(await page.getAttribute('.stage canvas', 'data-geometries'));
    };
    const first = await held();
    for (let i = 0; i < 4; i++) await held();
    expect(await held()).toBe(first);
  });
});

describe('playing', () => {
  test('glides forwards through every part and ends with the picture as it was', async () => {
    const { page, troubles } = await opened({ still: false });
    const home = await pixels(page);
    await page.click(BUTTON);
    expect(await page.getAttribute(BUTTON, 'aria-label')).toBe('Way in: pause');
    const heard = await page.evaluate(async (slider) => {
      const texts: string[] = [];
      const input = document.querySelector(slider) as HTMLInputElement;
      for (let i = 0; i < 4000; i++) {
        const text = input.getAttribute('aria-valuetext') ?? '';
        if (text !== texts.at(-1)) texts.push(text);
        if (text === 'All parts in their place') break;
        await new Promise((resolve) => requestAnimationFrame(resolve));
      }
      return texts;
    }, SLIDER);
    expect(heard.at(-1)).toBe(IN_PLACE);
    const along = heard.slice(0, -1).map((t) => {
      const m = /(\d+) % of the way in, .* (\d+) of (\d+)$/.exec(t);
      return m ? (Number(m[2]) - 1) * 100 + Number(m[1]) : Number.NaN;
    });
    expect(along.length).toBeGreaterThan(6);
    for (const [k, x] of along.entries()) expect(x, heard[k]).toBeGreaterThanOrEqual(along[k - 1] ?? 0);
    expect(new Set(along.map((x) => Math.floor(x / 100))).size).toBeGreaterThanOrEqual(3);
    expect(await page.getAttribute(BUTTON, 'aria-label')).toBe('Way in: play');
    await drawn(page);
    expect(await pixels(page)).toEqual(home);
    expect(troubles).toEqual([]);
    await page.context().close();
  });

  test('space pauses and goes on from there; a key takes over from it', async () => {
    const { page } = await opened({ still: false });
    await page.focus(SLIDER);
    await page.keyboard.press('Space');
    await page.waitForFunction((s) => / [1-9]\d? % of/.test(document.querySelector(s)?.getAttribute('aria-valuetext') ?? ''), SLIDER);
    await page.keyboard.press('Space');
    const paused = await spoken(page);
    for (let i = 0; i < 4; i++) await drawn(page);
    expect(await spoken(page)).toBe(paused);
    await page.keyboard.press('Space');
    await page.waitForFunction(([s, t]) => document.querySelector(s as string)?.getAttribute('aria-valuetext') !== t, [SLIDER, paused]);
    await page.keyboard.press('ArrowLeft');
    const held = await spoken(page);
    for (let i = 0; i < 4; i++) await drawn(page);
    expect(await spoken(page)).toBe(held);
    expect(await page.getAttribute(BUTTON, 'aria-label')).toBe('Way in: play');
    await page.context().close();
  });

  test('with less motion asked for it steps from part to part', async () => {
    const { page } = await opened({ still: true });
    const of = await page.locator('.details .steps li').count();
    const heard = await page.evaluate(
      async ([slider, button]) => {
        const input = document.querySelector(slider as string) as HTMLInputElement;
        const texts: string[] = [];
        new MutationObserver(() => texts.push(input.getAttribute('aria-valuetext') ?? '')).observe(input, {
          attributeFilter: ['aria-valuetext'],
        });
        (document.querySelector(button as string) as HTMLElement).click();
        while (texts.at(-1) !== 'All parts in their place') await new Promise((resolve) => setTimeout(resolve, 20));
        return texts;
      },
      [SLIDER, BUTTON],
    );
    expect(heard).toHaveLength(of + 1);
    for (const [k, text] of heard.slice(0, -1).entries()) expect(text).toMatch(new RegExp(`, 0 % of the way in, .*, ${k + 1} of ${of}$`));
    await page.context().close();
  });
});

test('there is a player where the text lists the order, and none elsewhere: every style of an ear that not all fit', async () => {
  const { page } = await opened();
  const samples = JSON.parse(readFileSync(`${TOP}sample-scans/index.json`, 'utf8')) as { file: string; title: string }[];
  const ragged = samples.find((s) => s.file.includes('ragged'));
  if (!ragged) throw new Error('no ragged sample');
  await page.focus(SLIDER);
  await page.keyboard.press('Home');
  await page.click('text=Sample scans');
  await page.click(`.samples button:has-text("${ragged.title}")`);
  await page.waitForFunction((t) => document.querySelector('#case-title')?.textContent === t, ragged.title, { timeout: 60_000 });
  await judged(page);
  const seen: boolean[] = [];
  for (const style of ['IIC', 'CIC', 'ITC', 'HS', 'ITE']) {
    await page.click(`[data-style=${style}]`);
    await drawn(page);
    const steps = await page.locator('.details .steps li').count();
    const shown = await page.locator('.way-in').isVisible();
    expect(shown, style).toBe(steps > 0);
    if (shown) expect(await spoken(page)).toBe(IN_PLACE);
    seen.push(shown);
  }
  expect(new Set(seen).size).toBe(2);
  await page.context().close();
});
