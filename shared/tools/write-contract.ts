/** Writes the generated documents of the contract into `shared/generated`; run after a change of a message or a topic. */
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { contractFiles } from '../contract-files.js';

/** Built or not, the first folder upwards that holds the package is the repository; the build holds none. */
function repository(): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, 'package.json'))) {
    const parent = dirname(folder);
    if (parent === folder)
      throw new Error('no package.json above this file: run it from within the repository');
    folder = parent;
  }
  return folder;
}

const root = repository();
const { version } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as { version: string };
const folder = join(root, 'shared', 'generated');
const files = contractFiles(version);
mkdirSync(folder, { recursive: true });
for (const name of readdirSync(folder)) {
  if (name.endsWith('.json') && !files.has(name)) rmSync(join(folder, name));
}
for (const [name, text] of files) writeFileSync(join(folder, name), text);
console.log(`wrote ${files.size} documents to shared/generated`);
