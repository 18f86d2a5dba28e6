/** What the browser must fetch before it shows the first view, as it travels. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { builtFile } from '../support/repository.js';

const FIRST_VIEW_BYTES_MOST = 150_000;
const folder = builtFile('src/page/assets');

/** Files that the index or a script names, and what those name. */
function followNames(text: string, found: Set<string>): Set<string> {
  for (const [name] of text.matchAll(/[\w-]+-[\w-]{8}\.(?:js|css|svg)/g)) {
    if (found.has(name)) continue;
    found.add(name);
  }
  return found;
}

it('everything that the first view needs is below 150 kB, packed', () => {
  const index = readFileSync(builtFile('src/page/index.html'), 'utf8');
  const needed = followNames(index, new Set());
  for (const name of readdirSync(folder)) if (/^now-screen-[^.]+\.(js|css)$/.test(name)) needed.add(name);
  const entry = [...needed].find((name) => name.endsWith('.js'))!;
  expect(readFileSync(join(folder, entry), 'utf8')).toContain('now-screen');
  // what the first view's own file imports is needed too
  for (const name of [...needed]) {
    if (!name.startsWith('now-screen') || !name.endsWith('.js')) continue;
    const text = readFileSync(join(folder, name), 'utf8');
    for (const [, path] of text.matchAll(/(?:from|import)\s*["']\.\/([^"']+)["']/g)) needed.add(path!);
  }
  const bytes = [...needed].reduce((sum, name) => sum + readFileSync(join(folder, `${name}.br`)).length, 0);
  expect(bytes).toBeGreaterThan(5_000);
  expect(bytes).toBeLessThan(FIRST_VIEW_BYTES_MOST);
});

it('the library that checks messages on the server is in none of the files', () => {
  for (const name of readdirSync(folder).filter((each) => each.endsWith('.js')))
    expect(readFileSync(join(folder, name), 'utf8'), name).not.toMatch(/ZodError|_zod|safeParse/);
});
