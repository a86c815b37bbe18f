/** Correcting the survey and changing the order on the page: by mouse, by keyboard, by typing; refused, taken back, saved and opened again. */
import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { beforeAll, describe, expect, test } from 'vitest';
import { axe, judged, serving } from './browser.ts';

const app = serving();
let page: Page;
let troubles: string[];
beforeAll(async () => {
  ({ page, troubles } = await app.opened());
});

const canal = async (): Promise<string> => (await page.locator('.survey dl').textContent()) ?? '';
const mark = (name: string) => page.locator(`.canal-mark[data-mark=${name}]`);
const depthOf = async (name: string): Promise<number> => Number(await mark(name).getAttribute('aria-valuenow'));
const byHand = (name: string, set: boolean) => page.waitForSelector(`.canal-mark[data-mark=${name}]${set ? '.by-hand' : ':not(.by-hand)'}`);

describe('the survey is corrected', () => {
  test('a mark is dragged along the strip: the section follows, the styles are judged anew, the mark says who set it', async () => {
    const before = await depthOf('firstBend');
    await mark('firstBend').scrollIntoViewIfNeeded();
    const box = await mark('firstBend').boundingBox();
    if (!box) throw new Error('the mark is not drawn');
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x - 14, y, { steps: 4 });
    expect(await depthOf('firstBend')).toBeLessThan(before - 0.5);
    await page.mouse.up();
    await byHand('firstBend', true);
    expect(await depthOf('firstBend')).toBeLessThan(before - 0.5);
    expect(await canal()).toContain('set by hand');
    await judged(page);
  });

  test('Delete takes it back', async () => {
    await mark('firstBend').focus();
    await page.keyboard.press('Delete');
    await byHand('firstBend', false);
    expect(await canal()).not.toContain('by hand');
    await judged(page);
  });

  test('arrow keys move a mark; Escape leaves it as it was, Enter sets it', async () => {
    const before = await depthOf('end');
    await mark('end').focus();
    await page.keyboard.press('ArrowLeft');
    expect(await depthOf('end')).toBeLessThan(before);
    await page.keyboard.press('Escape');
    expect(await depthOf('end')).toBeCloseTo(before, 1);
    await page.keyboard.press('PageDown');
    await page.keyboard.press('Enter');
    await byHand('end', true);
    expect(await depthOf('end')).toBeCloseTo(before - 1, 1);
  });

  test('a number that cannot be is refused beside the field; the case stays as it was', async () => {
    await judged(page);
    await page.locator('.survey summary').click();
    if (!(await page.locator('.survey details').evaluate((d) => (d as HTMLDetailsElement).open)))
      await page.locator('.survey summary').click();
    const field = page.locator('.survey input[data-mark=secondBend]');
    const was = await field.inputValue();
    await field.fill('55');
    await field.press('Enter');
    await page.waitForFunction(() => (document.querySelector('.survey .refused')?.textContent ?? '') !== '');
    expect(await page.locator('.survey .refused').textContent()).toMatch(/second bend was set 55\.0 mm inside.*Set it from/s);
    expect(await field.inputValue()).toBe(was);
    expect(await page.locator('.fault').count()).toBe(0);
  });

  test('the crus is pointed out on the cast: beside it nothing happens, Escape leaves it, Enter takes what lies under the cross', async () => {
    await judged(page);
    const ask = page.getByRole('button', { name: 'Point out the crus on the cast' });
    await ask.click();
    await page.locator('.stage canvas').click({ position: { x: 5, y: 5 } });
    expect(await page.locator('.pick').textContent()).toContain('There is no cast at that place');
    await page.keyboard.press('Escape');
    expect(await page.locator('.pick').count()).toBe(0);
    await ask.click();
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => /Crusset by hand/.test(document.querySelector('.survey dl')?.textContent ?? ''));
    await judged(page);
  });

  test('all corrections are taken back at once', async () => {
    await page.getByRole('button', { name: 'Take all corrections back' }).click();
    await byHand('end', false);
    await judged(page);
    expect(await canal()).not.toContain('by hand');
  });
});

describe('the order is changed', () => {
  test('what hearing and wishes ask for is said with its source, and rules small styles out', async () => {
    await page.locator('.order summary').click();
    for (const [hz, db] of [
      [500, '65'],
      [1000, '70'],
      [2000, '75'],
      [4000, '80'],
    ])
      await page.locator(`.order [data-hz="${hz}"]`).fill(String(db));
    await page.getByLabel('Volume wheel').check();
    await page.getByRole('button', { name: 'Judge with this order' }).click();
    await page.waitForSelector('.needs li');
    await judged(page);
    const needs = await page.locator('.needs').textContent();
    expect(needs).toMatch(/72\.5 dB HL: severe by WHO/);
    expect(needs).toMatch(/receiver of size large/);
    expect(await page.locator('.rung').first().textContent()).toMatch(/asks for a volume wheel/);
  });

  test('both panels open are accessible (axe-core, WCAG 2.2 AA)', async () => {
    expect(await axe(page)).toEqual([]);
  });

  test('a threshold that is missing is named, and nothing is judged', async () => {
    await page.locator('.order [data-hz="1000"]').fill('');
    await page.getByRole('button', { name: 'Judge with this order' }).click();
    expect(await page.locator('.order .refused').textContent()).toMatch(/1000: missing, a number from -10 to 130 dB HL/);
  });

  test('the case is saved, and dropped with its scan opens as it was', async () => {
    const downloaded = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Save as a case file' }).click();
    const file = await (await downloaded).path();
    const text = readFileSync(file, 'utf8');
    expect(JSON.parse(text)).toMatchObject({ format: 'cavum-case', order: { volumeWheel: true, hearing: { air: { 1000: 70 } } } });
    await page.getByRole('button', { name: 'Take the order back' }).click();
    await page.waitForSelector('.needs li', { state: 'detached' });
    await judged(page);
    await page
      .locator('input[type=file]')
      .setInputFiles({ name: 'one.case.json', mimeType: 'application/json', buffer: Buffer.from(text) });
    await page.waitForSelector('.needs li');
    await judged(page);
    expect(await page.locator('.needs').textContent()).toMatch(/72\.5 dB HL/);
  });

  test('nothing failed on the way', () => expect(troubles).toEqual([]));
});
