/** Writes messages as a capture: one JSON object a line, compressed when the name ends in .gz. */
import { once } from 'node:events';
import { createWriteStream } from 'node:fs';
import type { Writable } from 'node:stream';
import { finished } from 'node:stream/promises';
import { createGzip } from 'node:zlib';
import type { Message } from './messages.js';

/** One line of a capture, without its line feed. */
export function formatLine(message: Message): string {
  const { arrived, client, topic, payload, retain, event } = message;
  if (event === 'tick') return JSON.stringify({ arrived, event });
  if (event !== undefined) return JSON.stringify({ arrived, client, event });
  const body = Buffer.isBuffer(payload) ? { payload64: payload.toString('base64') } : { payload };
  return JSON.stringify(
    retain ? { arrived, client, topic, ...body, retain } : { arrived, client, topic, ...body },
  );
}

export interface CaptureTally {
  messages: number;
  readings: number;
}

/** Writes all chunks, one after the other. Rejects when the file cannot be written. */
export async function writeCapture(
  path: string,
  chunks: Iterable<readonly Message[]>,
): Promise<CaptureTally> {
  const file = createWriteStream(path);
  const isPacked = path.endsWith('.gz');
  const sink: Writable = isPacked ? createGzip({ level: 4 }) : file;
  if (isPacked) (sink as ReturnType<typeof createGzip>).pipe(file);
  const done = finished(file);
  const failed = done.catch((error: unknown) => error);
  const tally = { messages: 0, readings: 0 };
  for (const chunk of chunks) {
    const lines: string[] = [];
    for (const message of chunk) {
      if (message.event === undefined) tally.messages += 1;
      if (message.topic.endsWith('/reading')) tally.readings += 1;
      lines.push(formatLine(message));
    }
    if (lines.length === 0) continue;
    if (!sink.write(`${lines.join('\n')}\n`)) await Promise.race([once(sink, 'drain'), failed]);
    if (file.errored !== null) break;
  }
  sink.end();
  await done;
  return tally;
}
