/**
 * Writes what arrives as capture lines (docs/capture-format.md), packed when the name ends in .gz. `flush` resolves when
 * everything so far has been handed to the operating system, so that senders can be held to its pace.
 */
import { createWriteStream } from 'node:fs';
import type { Writable } from 'node:stream';
import { finished } from 'node:stream/promises';
import { constants, createGzip, type Gzip } from 'node:zlib';
import type { Arrival } from '../intake/intake.js';

export type CaptureEvent = Arrival | { readonly kind: 'tick'; readonly arrived: number };

const decoder = new TextDecoder('utf-8', { fatal: true });

/** The payload as JSON where replay would read the very same message from it, else as base64. */
function writePayload(payload: Uint8Array): { payload: unknown } | { payload64: string } {
  try {
    return { payload: JSON.parse(decoder.decode(payload)) as unknown };
  } catch {
    return { payload64: Buffer.from(payload).toString('base64') };
  }
}

/** One line, with its line end. */
export function writeCaptureLine(event: CaptureEvent): string {
  if (event.kind === 'tick') return `${JSON.stringify({ arrived: event.arrived, event: 'tick' })}\n`;
  if (event.kind !== 'message') {
    return `${JSON.stringify({ arrived: event.arrived, event: event.kind, client: event.client })}\n`;
  }
  const { arrived, client, topic, payload, retain } = event;
  return `${JSON.stringify({ arrived, client, topic, ...writePayload(payload), ...(retain ? { retain } : {}) })}\n`;
}

export class CaptureWriter {
  readonly #file: Writable;
  readonly #gzip: Gzip | null;
  readonly #done: Promise<void>;
  /** what the disk said; null: nothing went wrong */
  failure: Error | null = null;
  lines = 0;

  /** Fails when the file exists already. */
  constructor(path: string) {
    const file = createWriteStream(path, { flags: 'wx' });
    this.#file = file;
    this.#gzip = path.endsWith('.gz') ? createGzip({ level: 4 }) : null;
    this.#gzip?.pipe(file);
    this.#done = finished(file);
    this.#done.catch((error: unknown) => {
      this.failure = error instanceof Error ? error : new Error(String(error));
    });
  }

  write(event: CaptureEvent): void {
    this.lines += 1;
    (this.#gzip ?? this.#file).write(writeCaptureLine(event));
  }

  /** Rejects when the file cannot be written. */
  async flush(): Promise<void> {
    const gzip = this.#gzip;
    if (gzip !== null)
      await new Promise<void>((resolve) => gzip.flush(constants.Z_SYNC_FLUSH, () => resolve()));
    await new Promise<void>((resolve) => {
      if (this.failure !== null) resolve();
      else this.#file.write('', () => resolve());
    });
    if (this.failure !== null) throw this.failure;
  }

  async end(): Promise<void> {
    (this.#gzip ?? this.#file).end();
    await this.#done;
  }
}
