/** The version of this program, from package.json: two folders up in the sources, three in the built program. */
import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

/** `0.0.0` where no package.json is found. */
export function readVersion(): string {
  for (const up of ['../../package.json', '../../../package.json']) {
    const path = fileURLToPath(new URL(up, import.meta.url));
    if (!existsSync(path)) continue;
    const content = JSON.parse(readFileSync(path, 'utf8')) as { name?: string; version?: string };
    if (content.name === 'tallypost' && content.version !== undefined) return content.version;
  }
  return '0.0.0';
}
