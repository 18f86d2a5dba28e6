/** How the page is built: Preact's own JSX, everything hashed but the index, nothing inlined (the policy allows `self` only). */
import { defineConfig, type UserConfig } from 'vite';

const config: UserConfig = {
  root: 'src/page',
  publicDir: false,
  build: {
    outDir: '../../dist/src/page',
    emptyOutDir: true,
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    reportCompressedSize: false,
  },
};

// the builder asks for a default export
export default defineConfig(config);
