import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vite';

const here = fileURLToPath(new URL('.', import.meta.url));

export default defineConfig({
  root: here,
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: {
    outDir: fileURLToPath(new URL('../../dist/dashboard/web', import.meta.url)),
    emptyOutDir: true,
    // The owner's page stands apart: who opens it gets nothing of the station's own page.
    rolldownOptions: { input: [`${here}index.html`, `${here}owner.html`] },
    target: 'es2022',
    // Everything stays a file of its own: the page's security policy allows no data: scripts or styles.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    reportCompressedSize: true,
  },
});
