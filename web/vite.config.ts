// The page: static files only, any host can serve them. TILLWRAP_WASM names the folder with the compiled engine.
import { svelte } from '@sveltejs/vite-plugin-svelte';
import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';
import { offline } from './offline';

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));
const wasm = process.env.TILLWRAP_WASM ?? here('../build/wasm');

export default defineConfig({
  base: './',
  plugins: [svelte(), offline(here('./sw.template.js'))],
  resolve: {
    alias: { $wasm: wasm, $examples: here('../examples') },
    // The browser's build of Svelte in unit tests too.
    ...(process.env.VITEST ? { conditions: ['browser'] } : {}),
  },
  worker: { format: 'es' },
  build: {
    target: 'es2022',
    outDir: process.env.TILLWRAP_PAGE ?? here('../build/page'),
    emptyOutDir: true,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
  server: { fs: { allow: [here('..'), wasm] } },
  test: { environment: 'node', include: ['tests/unit/**/*.test.ts'] },
});
