/** Every bad file dropped on the page: the same words as from the engine in Node, and the case before stays as it was. */
import { readdirSync } from 'node:fs';
import { expect, test } from 'vitest';
import { Fault } from '../../src/model/fault.ts';
import { readScan } from '../../src/scan/index.ts';
import { describeShared, sharedFile, sharedPath } from '../support/shared.ts';
import { judged, newPage, serving } from './browser.ts';

const app = serving();

function refusal(bytes: Uint8Array, name: string): Fault | undefined {
  try {
    readScan(bytes, name);
    return undefined;
  } catch (e) {
    if (e instanceof Fault) return e;
    throw e;
  }
}

describeShared('dropped files that are refused', 'bad-inputs', () => {
  test('each is answered beside the drop place in the same words; the case stays', async () => {
    const { page, troubles } = await newPage(app.browser());
    await page.goto(app.url());
    await judged(page);
    const before = { title: await page.textContent('#case-title'), rungs: await page.locator('.rung').allTextContents() };
    let tried = 0;
    for (const folder of ['bad-inputs', 'scans']) {
      for (const file of readdirSync(sharedPath(folder)).filter((f) => !f.endsWith('.md'))) {
        const bytes = sharedFile(`${folder}/${file}`);
        const fault = refusal(bytes, file);
        if (!fault) continue;
        const name = `${tried++} left ${file}`;
        await page.evaluate(
          ([text, called]) => {
            const data = new DataTransfer();
            data.items.add(new File([Uint8Array.from(atob(text), (c) => c.charCodeAt(0))], called));
            dispatchEvent(new DragEvent('drop', { dataTransfer: data, bubbles: true, cancelable: true }));
          },
          [Buffer.from(bytes).toString('base64'), name] as const,
        );
        await page.waitForFunction((called) => document.querySelector('.fault h2')?.textContent?.includes(called), name);
        const said = ((await page.textContent('.fault')) ?? '').toLowerCase();
        expect(said, file).toContain(fault.found.toLowerCase());
        expect(said, file).toContain(fault.next.toLowerCase());
        const offered = await page.locator('.fault [data-unit]').count();
        expect(offered, file).toBe(fault.code === 'scan/unit' ? fault.choices.length : 0);
      }
    }
    expect(tried).toBeGreaterThan(50);
    expect({ title: await page.textContent('#case-title'), rungs: await page.locator('.rung').allTextContents() }).toEqual(before);
    expect(troubles).toEqual([]);
    await page.context().close();
  });

  test('a scan in inches: the page offers the unit, and reads it so', async () => {
    const { page } = await newPage(app.browser());
    await page.goto(app.url());
    await judged(page);
    await page.setInputFiles('input[type=file]', {
      name: 'inches-right.stl',
      mimeType: 'model/stl',
      buffer: Buffer.from(sharedFile('scans/impression_right_a_inch.stl')),
    });
    await page.waitForSelector('.fault [data-unit=inch]');
    await page.click('.fault [data-unit=inch]');
    await page.waitForFunction(() => document.querySelector('#case-title')?.textContent === 'inches-right.stl');
    await page.waitForFunction(() => document.querySelector('.details')?.textContent?.includes('read in inches'));
    expect(await page.locator('.fault').count()).toBe(0);
    await page.context().close();
  });
});
