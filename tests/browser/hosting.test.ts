/** The built page on the plainest of servers: a sub folder with a space in its name, no special headers, nothing else reachable. */
import { createReadStream, existsSync, statSync } from 'node:fs';
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { extname, join, normalize } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { APP, judged, launch, newPage } from './browser.ts';

const FOLDER = '/some/sub folder/';
const TYPES: Record<string, string> = {
  '.html': 'text/html',
  '.js': 'text/javascript',
  '.css': 'text/css',
  '.wasm': 'application/wasm',
  '.json': 'application/json',
};

let browser: Browser;
let server: Server;
let url: string;
beforeAll(async () => {
  server = createServer((request, response) => {
    const path = decodeURIComponent((request.url ?? '').replace(/[?#].*$/, ''));
    const file = path.startsWith(FOLDER) ? normalize(join(APP, path.slice(FOLDER.length) || 'index.html')) : '';
    if (!file.startsWith(APP) || !existsSync(file) || !statSync(file).isFile()) {
      response.writeHead(404).end();
      return;
    }
    response.writeHead(200, { 'Content-Type': TYPES[extname(file)] ?? 'application/octet-stream' });
    createReadStream(file).pipe(response);
  });
  await new Promise<void>((ready) => server.listen(0, '127.0.0.1', ready));
  url = `http://127.0.0.1:${(server.address() as AddressInfo).port}${encodeURI(FOLDER)}`;
  browser = await launch();
});
afterAll(async () => {
  await browser?.close();
  server?.close();
});

test('works from a sub folder with the network otherwise cut: no failed request, a whole ladder', async () => {
  const { page, troubles, requests } = await newPage(browser);
  await page.route(
    (target) => target.protocol.startsWith('http') && !target.href.startsWith(url),
    (route) => route.abort(),
  );
  await page.goto(url);
  await judged(page);
  expect(troubles).toEqual([]);
  expect(requests.filter((r) => r.startsWith('http')).every((r) => r.startsWith(url))).toBe(true);
  expect(await page.locator('.rung .word').count()).toBe(5);
  await page.context().close();
});

test('the policy is strict: no script, style or connection from elsewhere is allowed', async () => {
  const { page } = await newPage(browser);
  await page.goto(url);
  const policy = await page.getAttribute('meta[http-equiv=Content-Security-Policy]', 'content');
  expect(policy).toContain("default-src 'none'");
  expect(policy).not.toMatch(/unsafe-inline|unsafe-eval'(?<!wasm-unsafe-eval')|https?:|\*/);
  const refused = await page.evaluate(() =>
    fetch('https://example.org/').then(
      () => 'sent',
      () => 'refused',
    ),
  );
  expect(refused).toBe('refused');
  await page.context().close();
});
