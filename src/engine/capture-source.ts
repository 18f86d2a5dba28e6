/**
 * Captures, one after the other, for a replay. Where the program is compiled they are unpacked, parsed and decoded on a
 * thread of their own, a few pages ahead of core and store, which are the other half of the work.
 */
import { Worker } from 'node:worker_threads';
import type { Plan } from '../core/plan.js';
import { NotACapture, readCapture, type BadLine } from './capture-file.js';
import type { CaptureLine } from './capture-line.js';
import { PageUnpacker, type CaptureItem, type CapturePage } from './capture-page.js';

export interface SourceWishes {
  readonly files: readonly string[];
  readonly plan: Plan;
  /** bad lines of one file beyond which it is no capture */
  readonly badLinesMax: number;
  /** called for every line left out */
  onBadLine(bad: BadLine): void;
  /** bytes of all files read so far */
  onBytes(bytes: number): void;
}

export type SourceSettings = Pick<SourceWishes, 'files' | 'plan' | 'badLinesMax'>;

export type FromSource =
  | { readonly kind: 'page'; readonly page: CapturePage }
  | { readonly kind: 'bad'; readonly bad: BadLine }
  | { readonly kind: 'failed'; readonly message: string; readonly code: string; readonly hint: string }
  | { readonly kind: 'end' };

/** Pages that may be under way; for each one taken the reader may send another. */
export const PAGES_AHEAD = 4;

/** Yields lines, many at a time, in order. Rejects with the system's error, or `NotACapture`. */
export function readCaptures(wishes: SourceWishes): AsyncGenerator<readonly CaptureItem[]> {
  return import.meta.url.endsWith('.ts') ? readHere(wishes) : readInThread(wishes);
}

async function* readHere(wishes: SourceWishes): AsyncGenerator<readonly CaptureItem[]> {
  for await (const { lines, bytes } of readFiles(wishes)) {
    wishes.onBytes(bytes);
    yield lines;
  }
}

/** Lines of all files, with the bytes read so far. */
export async function* readFiles(
  wishes: Pick<SourceWishes, 'files' | 'badLinesMax' | 'onBadLine'>,
): AsyncGenerator<{ lines: CaptureLine[]; bytes: number }> {
  const { files, badLinesMax, onBadLine } = wishes;
  let before = 0;
  let bytes = 0;
  for (const file of files) {
    const onBytes = (read: number): void => void (bytes = before + read);
    for await (const lines of readCapture(file, { badLinesMax, onBadLine, onBytes })) yield { lines, bytes };
    before = bytes;
  }
}

/** Messages of the thread in their order, each awaited. */
class Inbox {
  readonly #messages: FromSource[] = [];
  #wake: (() => void) | null = null;

  put(message: FromSource): void {
    this.#messages.push(message);
    this.#wake?.();
    this.#wake = null;
  }

  async take(): Promise<FromSource> {
    for (;;) {
      const message = this.#messages.shift();
      if (message !== undefined) return message;
      await new Promise<void>((resolve) => (this.#wake = resolve));
    }
  }
}

function toError({ message, code, hint }: Extract<FromSource, { kind: 'failed' }>): Error {
  if (code === 'not-a-capture') return new NotACapture(message);
  return Object.assign(new Error(message), code === '' ? {} : { code }, hint === '' ? {} : { hint });
}

async function* readInThread(wishes: SourceWishes): AsyncGenerator<readonly CaptureItem[]> {
  const { files, plan, badLinesMax } = wishes;
  const settings: SourceSettings = { files, plan, badLinesMax };
  const worker = new Worker(new URL('./capture-thread.js', import.meta.url), { workerData: settings });
  const inbox = new Inbox();
  worker.on('message', (message: FromSource) => inbox.put(message));
  worker.on('error', ({ message }) => inbox.put({ kind: 'failed', message, code: '', hint: '' }));
  worker.on('exit', () =>
    inbox.put({ kind: 'failed', message: 'the thread that reads captures ended', code: '', hint: '' }),
  );
  const unpacker = new PageUnpacker();
  try {
    for (;;) {
      const message = await inbox.take();
      if (message.kind === 'end') return;
      if (message.kind === 'failed') throw toError(message);
      if (message.kind === 'bad') wishes.onBadLine(message.bad);
      else {
        worker.postMessage('more');
        wishes.onBytes(message.page.bytes);
        yield unpacker.unpack(message.page);
      }
    }
  } finally {
    await worker.terminate();
  }
}
