/** Writes a fleet as a capture file, as `tallypost replay` reads it. */
import { createWriteStream } from 'node:fs';
import { once } from 'node:events';
import { createGzip, constants } from 'node:zlib';
import { pipeline } from 'node:stream/promises';
import { visitCapture, type FleetWishes } from './fleet.js';

const CHUNK_CHARACTERS = 1 << 18;

/** A path that ends in `.gz` is compressed. Resolves when the file is complete. */
export async function writeCapture(path: string, wishes: FleetWishes, site: string): Promise<void> {
  const file = createWriteStream(path);
  const target = path.endsWith('.gz') ? createGzip({ level: constants.Z_BEST_SPEED }) : file;
  const finished =
    target === file ? once(file, 'close') : pipeline(target as ReturnType<typeof createGzip>, file);
  for (const chunk of collectChunks(wishes, site)) {
    if (!target.write(chunk)) await once(target, 'drain');
  }
  target.end();
  await finished;
}

/** Whole lines, about a quarter of a megabyte at a time, handed on as they come so that memory stays small. */
function* collectChunks(wishes: FleetWishes, site: string): Generator<string> {
  let chunks: string[] = [];
  let text = '';
  const take = (line: string): void => {
    text += line;
    if (text.length < CHUNK_CHARACTERS) return;
    chunks.push(text);
    text = '';
  };
  const rounds = visitCapture(wishes, site, take);
  while (rounds.next().done !== true) {
    if (chunks.length === 0) continue;
    yield* chunks;
    chunks = [];
  }
  if (text !== '') yield text;
}
