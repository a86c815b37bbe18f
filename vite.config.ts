import { copyFileSync, cpSync, createReadStream, existsSync, readdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Plugin } from 'vite';
import { defineConfig } from 'vitest/config';

// One file serves the page, the command line and the tests.
//   vite build              the page            -> dist/app
//   vite build --mode cli   command line and library for Node -> dist/cli
//   vitest --project unit | browser | bench
const root = dirname(fileURLToPath(import.meta.url));
const testing = process.env['VITEST'] !== undefined; // the tests run from the top
const kernelWasm = join(root, 'node_modules/manifold-3d/manifold.wasm');

// Isolation headers let workers share memory; nothing here allows a request to another host.
export const headers = {
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Cross-Origin-Embedder-Policy': 'require-corp',
};

// The page lies in src/app; its samples lie beside src and go with it.
const page = join(root, 'src/app');
const samples = join(root, 'sample-scans');
const sampleScans: Plugin = {
  name: 'cavum-sample-scans',
  configureServer(server) {
    server.middlewares.use('/sample-scans', (request, response, next) => {
      const file = decodeURIComponent((request.url ?? '').replace(/^\/|[?#].*$/g, ''));
      if (!existsSync(samples) || !readdirSync(samples).includes(file)) return next();
      response.setHeader('Content-Type', file.endsWith('.json') ? 'application/json' : 'application/octet-stream');
      createReadStream(join(samples, file)).pipe(response);
    });
  },
  // While developing, styles are injected and reloads come over a socket; the built page keeps the strict policy.
  transformIndexHtml: (html, { server }) => (server ? html.replace("style-src 'self'", "style-src 'self' 'unsafe-inline'") : html),
  closeBundle() {
    if (existsSync(samples))
      cpSync(samples, join(root, 'dist/app/sample-scans'), { recursive: true, filter: (from) => !from.endsWith('.truth.json') });
  },
};

const copyKernel = {
  name: 'cavum-copy-kernel',
  closeBundle() {
    copyFileSync(kernelWasm, join(root, 'dist/cli/manifold.wasm'));
  },
};

export default defineConfig(({ mode }) => ({
  base: './',
  ...(mode === 'cli' || testing ? {} : { root: page, publicDir: false as const }),
  worker: { format: 'es' as const },
  server: { host: '127.0.0.1', headers, fs: { allow: [root] } },
  preview: { host: '127.0.0.1', headers },
  optimizeDeps: {
    exclude: ['manifold-3d'],
    include: ['three', 'three/addons/controls/OrbitControls.js', '@noble/hashes/sha2.js', 'valibot', 'fflate/browser'],
  },
  plugins: mode === 'cli' ? [copyKernel] : testing ? [] : [sampleScans],
  ...(mode === 'cli' ? { ssr: { noExternal: true as const } } : {}),
  build:
    mode === 'cli'
      ? {
          ssr: true,
          outDir: 'dist/cli',
          target: 'node20',
          emptyOutDir: true,
          rolldownOptions: {
            input: { cavum: 'src/cli/cavum.ts', engine: 'src/engine/index.ts', mate: 'src/cli/mate.ts' },
            output: {
              entryFileNames: '[name].js',
              // The kernel looks for its wasm beside the chunk that holds it.
              chunkFileNames: '[name].js',
              banner: (chunk: { name: string }) => (chunk.name === 'cavum' ? '#!/usr/bin/env node' : ''),
            },
          },
        }
      : { outDir: join(root, 'dist/app'), target: 'es2023', emptyOutDir: true, chunkSizeWarningLimit: 1200 },
  test: {
    // All cores: left to itself it keeps one free, which is half of two.
    maxWorkers: '100%',
    projects: [
      {
        extends: true as const,
        test: {
          name: 'unit',
          environment: 'node',
          include: ['tests/**/*.test.ts'],
          exclude: ['tests/browser/**', 'tests/bench/**'],
          testTimeout: 120_000,
          hookTimeout: 120_000,
        },
      },
      {
        extends: true as const,
        test: {
          name: 'browser',
          environment: 'node',
          include: ['tests/browser/**/*.test.ts'],
          fileParallelism: false,
          testTimeout: 120_000,
          hookTimeout: 120_000,
        },
      },
      {
        extends: true as const,
        test: {
          name: 'bench',
          environment: 'node',
          include: ['tests/bench/**/*.bench.ts'],
          fileParallelism: false,
          testTimeout: 3_600_000,
          hookTimeout: 600_000,
        },
      },
    ],
  },
}));
