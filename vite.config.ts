import { copyFileSync, cpSync, existsSync, readdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

// One file serves the page, the command line and the tests.
//   vite build              the page            -> dist/app
//   vite build --mode cli   command line and library for Node -> dist/cli
//   vitest --project unit | browser | bench
const root = dirname(fileURLToPath(import.meta.url));
const kernelWasm = join(root, 'node_modules/manifold-3d/manifold.wasm');

// Isolation headers let workers share memory; nothing here allows a request to another host.
const headers = {
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Cross-Origin-Embedder-Policy': 'require-corp',
};

const sampleScans = {
  name: 'cavum-sample-scans',
  closeBundle() {
    const from = join(root, 'sample-scans');
    if (existsSync(from) && readdirSync(from).length > 0) cpSync(from, join(root, 'dist/app/sample-scans'), { recursive: true });
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
  worker: { format: 'es' as const },
  server: { host: '127.0.0.1', headers },
  preview: { host: '127.0.0.1', headers },
  optimizeDeps: { exclude: ['manifold-3d'], include: ['three', 'three-mesh-bvh'] },
  plugins: mode === 'cli' ? [copyKernel] : mode === 'production' ? [sampleScans] : [],
  ...(mode === 'cli' ? { ssr: { noExternal: true as const } } : {}),
  build:
    mode === 'cli'
      ? {
          ssr: true,
          outDir: 'dist/cli',
          target: 'node20',
          emptyOutDir: true,
          rolldownOptions: {
            input: { cavum: 'src/cli/cavum.ts', engine: 'src/engine/index.ts' },
            output: {
              entryFileNames: '[name].js',
              // The kernel looks for its wasm beside the chunk that holds it.
              chunkFileNames: '[name].js',
              banner: (chunk: { name: string }) => (chunk.name === 'cavum' ? '#!/usr/bin/env node' : ''),
            },
          },
        }
      : { outDir: 'dist/app', target: 'es2023', emptyOutDir: true, chunkSizeWarningLimit: 1200 },
  test: {
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
