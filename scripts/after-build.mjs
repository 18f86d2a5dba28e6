/** Copies what the compiler does not: files that the built program reads at run time. */
import { chmodSync, cpSync, existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { dirname, join } from 'node:path';

const root = join(dirname(fileURLToPath(import.meta.url)), '..');
for (const asset of ['src/api/page']) {
  if (existsSync(join(root, asset)))
    cpSync(join(root, asset), join(root, 'dist', asset), { recursive: true });
}
const main = join(root, 'dist/src/main.js');
if (existsSync(main)) chmodSync(main, 0o755);
