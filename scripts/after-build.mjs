/** What the compiler does not do: packs the page's files for the wire, once, and lets the program be run by its name. */
import { chmodSync, existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { dirname, join } from 'node:path';
import { brotliCompressSync, constants, gzipSync } from 'node:zlib';

const root = join(dirname(fileURLToPath(import.meta.url)), '..');
const page = join(root, 'dist/src/page');
for (const name of readdirSync(page, { recursive: true })) {
  if (!/\.(html|css|js|svg)$/.test(name)) continue;
  const content = readFileSync(join(page, name));
  const options = { params: { [constants.BROTLI_PARAM_SIZE_HINT]: content.length } };
  writeFileSync(join(page, `${name}.br`), brotliCompressSync(content, options));
  writeFileSync(join(page, `${name}.gz`), gzipSync(content, { level: 9 }));
}
const main = join(root, 'dist/src/main.js');
if (existsSync(main)) chmodSync(main, 0o755);
