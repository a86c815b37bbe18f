/** The built page in a real browser: `npm run build` first, then these tests serve dist/app and open it. */
import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { type Browser, chromium, type Page } from 'playwright-core';
import { type PreviewServer, preview } from 'vite';
import { afterAll, beforeAll } from 'vitest';
import { headers } from '../../vite.config.ts';

export const TOP = fileURLToPath(new URL('../..', import.meta.url));
export const APP = `${TOP}dist/app`;

const FLAGS = [
  '--use-angle=swiftshader',
  '--enable-unsafe-swiftshader',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

/** The browser that CHROMIUM_PATH names, or the system's; where that is missing, the one that comes as a package. */
export async function launch(more: readonly string[] = []): Promise<Browser> {
  const installed = process.env['CHROMIUM_PATH'] ?? '/usr/bin/chromium';
  if (existsSync(installed)) return chromium.launch({ executablePath: installed, args: ['--no-sandbox', ...FLAGS, ...more] });
  // It unpacks its own system libraries only where it believes to run as a cloud function: said before it is loaded.
  process.env['AWS_EXECUTION_ENV'] ??= 'AWS_Lambda_nodejs20.x';
  process.env['AWS_LAMBDA_JS_RUNTIME'] ??= 'nodejs20.x';
  const packed = (await import('@sparticuz/chromium')).default;
  // Its own flags switch off web security and processes: the tests are about the first and need the second.
  const args = packed.args.filter(
    (flag) => !/^--(disable-web-security|single-process|no-zygote|in-process-gpu|use-gl|use-angle)/.test(flag),
  );
  return chromium.launch({ executablePath: await packed.executablePath(), args: [...args, ...FLAGS, ...more] });
}

/** Serves dist/app as `npm start` does. */
export async function serveApp(): Promise<{ url: string; close: () => Promise<void> }> {
  if (!existsSync(`${APP}/index.html`)) throw new Error('dist/app is missing: run `npm run build` before the browser tests');
  const server: PreviewServer = await preview({
    configFile: false,
    root: TOP,
    logLevel: 'error',
    build: { outDir: APP },
    preview: { port: 0, host: '127.0.0.1', headers },
  });
  const url = server.resolvedUrls?.local[0];
  if (!url) throw new Error('the preview server has no address');
  return { url, close: () => server.close() };
}

/** A browser and the served page for all tests of a file; read what they are only within a test or a hook. */
export function serving(): { browser(): Browser; url(): string; opened(options?: PageOptions): Promise<Watched> } {
  let browser: Browser | undefined;
  let server: Awaited<ReturnType<typeof serveApp>> | undefined;
  beforeAll(async () => {
    server = await serveApp();
    browser = await launch();
  });
  afterAll(async () => {
    await browser?.close();
    await server?.close();
  });
  const there = <T>(x: T | undefined): T => {
    if (x === undefined) throw new Error('asked for before it was started');
    return x;
  };
  /** A fresh page on which the first sample has been judged. */
  const opened = async (options: PageOptions = {}): Promise<Watched> => {
    const watched = await newPage(there(browser), options);
    await watched.page.goto(there(server).url);
    await judged(watched.page);
    return watched;
  };
  return { browser: () => there(browser), url: () => there(server).url, opened };
}

export interface Watched {
  readonly page: Page;
  /** Console errors, page errors, failed or refused requests. */
  readonly troubles: string[];
  readonly requests: string[];
}

export interface PageOptions {
  readonly width?: number;
  readonly height?: number;
  readonly dark?: boolean;
  readonly still?: boolean;
}

/** A fresh page that notes everything that goes wrong. */
export async function newPage(browser: Browser, options: PageOptions = {}): Promise<Watched> {
  const context = await browser.newContext({
    viewport: { width: options.width ?? 1280, height: options.height ?? 720 },
    colorScheme: options.dark ? 'dark' : 'light',
    reducedMotion: options.still === false ? 'no-preference' : 'reduce',
  });
  const page = await context.newPage();
  const troubles: string[] = [];
  const requests: string[] = [];
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') troubles.push(`console ${message.type()}: ${message.text()}`);
  });
  page.on('pageerror', (error) => troubles.push(`page: ${error.message}`));
  page.on('request', (request) => requests.push(request.url()));
  page.on('requestfailed', (request) => troubles.push(`request failed: ${request.url()}`));
  page.on('response', (response) => {
    if (response.status() >= 400) troubles.push(`${response.status()} ${response.url()}`);
  });
  return { page, troubles, requests };
}

/** Waits until the ladder is whole and what it shows has been drawn. */
export async function judged(page: Page): Promise<void> {
  await page.waitForFunction(
    () =>
      document.querySelector('.cancel') === null &&
      document.querySelectorAll('.rung .spare, .rung .verdict-not-judged, .rung-verdict[class*=verdict-]').length >= 5,
    undefined,
    { timeout: 110_000 },
  );
  await drawn(page);
}

/** The scene's own pixels: alpha, blue, green, red, from the highest byte down. */
export const pixels = (page: Page): Promise<number[]> =>
  page.evaluate(() => {
    const canvas = document.querySelector('.stage canvas') as HTMLCanvasElement;
    const copy = document.createElement('canvas');
    copy.width = canvas.width;
    copy.height = canvas.height;
    const context = copy.getContext('2d') as CanvasRenderingContext2D;
    context.drawImage(canvas, 0, 0);
    return Array.from(new Uint32Array(context.getImageData(0, 0, copy.width, copy.height).data.buffer));
  });

/** Waits for pictures that were asked for. */
export const drawn = (page: Page): Promise<void> =>
  page.evaluate(async () => {
    for (let i = 0; i < 3; i++) await new Promise((resolve) => requestAnimationFrame(resolve));
  });

/** Serious or critical findings of axe-core (WCAG 2.2 A and AA), as text. The page's policy lets no script in: it is evaluated from outside. */
export async function axe(page: Page): Promise<string[]> {
  await page.evaluate(readFileSync(`${TOP}node_modules/axe-core/axe.min.js`, 'utf8'));
  return page.evaluate(async () => {
    const run = (
      globalThis as unknown as {
        axe: {
          run(o: object): Promise<{ violations: { id: string; impact: string; nodes: { html: string; failureSummary: string }[] }[] }>;
        };
      }
    ).axe.run;
    const { violations } = await run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] });
    return violations
      .filter((v) => v.impact === 'serious' || v.impact === 'critical')
      .flatMap((v) => v.nodes.map((n) => `${v.id}: ${n.html.slice(0, 160)} ${n.failureSummary}`));
  });
}
