/** Where the checkout lies, from the sources and from the built files alike. */
import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** The folder that holds package.json, upwards of this file. */
export function repositoryRoot(): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, 'package.json'))) {
    const parent = dirname(folder);
    if (parent === folder) throw new Error('no package.json above this file: run it from a checkout');
    folder = parent;
  }
  return folder;
}

/** A built file under dist/, for example `src/main.js`. Throws when it was not built. */
export function builtFile(path: string): string {
  const file = join(repositoryRoot(), 'dist', path);
  if (!existsSync(file)) throw new Error(`dist/${path} is missing: run "npm run build" first`);
  return file;
}
