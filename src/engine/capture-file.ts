/** Capture files: NDJSON, gzip where the name ends in `.gz`, read in pieces and written without holding up the sender. */
import { createReadStream, createWriteStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { StringDecoder } from 'node:string_decoder';
import { finished } from 'node:stream/promises';
import { createGunzip, createGzip, type Gzip } from 'node:zlib';
import type { Readable, Writable } from 'node:stream';
import { formatLine, parseLine, type CaptureEvent, type CaptureLine } from './capture-line.js';

const CHUNK_BYTES = 1_048_576;
const LINE_CHARS_MAX = 2_097_152;

/** A line that is left out. `line` counts from 1. */
export interface BadLine {
  readonly file: string;
  readonly line: number;
  readonly reason: string;
}

/** Too many lines cannot be read: it is some other file. */
export class NotACapture extends Error {
  readonly code = 'not-a-capture';
  readonly hint = 'Name a file that the capture command or the simulator wrote.';
}

export interface ReadWishes {
  /** called for every line left out */
  onBadLine(bad: BadLine): void;
  /** more bad lines than this end it with `NotACapture` */
  readonly badLinesMax: number;
  /** bytes of the file read so far */
  onBytes?(bytes: number): void;
}

/** Yields lines, many at a time, in the order of the file. Rejects with the system's error, or `NotACapture`. */
export async function* readCapture(file: string, wishes: ReadWishes): AsyncGenerator<CaptureLine[]> {
  const source = createReadStream(file, { highWaterMark: CHUNK_BYTES });
  source.on('data', () => wishes.onBytes?.(source.bytesRead));
  const plain: Readable = file.endsWith('.gz') ? unzip(source) : source;
  const decoder = new StringDecoder('utf8');
  const splitter = new LineSplitter(file, wishes);
  for await (const chunk of plain) {
    const lines = splitter.take(decoder.write(chunk as Buffer));
    if (lines.length > 0) yield lines;
  }
  const last = splitter.take(`${decoder.end()}\n`);
  if (last.length > 0) yield last;
}

function unzip(source: Readable): Readable {
  const gunzip = createGunzip({ chunkSize: CHUNK_BYTES });
  source.on('error', (error) => gunzip.destroy(error));
  return source.pipe(gunzip);
}

class LineSplitter {
  readonly #file: string;
  readonly #wishes: ReadWishes;
  #rest = '';
  #line = 0;
  #bad = 0;

  constructor(file: string, wishes: ReadWishes) {
    this.#file = file;
    this.#wishes = wishes;
  }

  take(text: string): CaptureLine[] {
    const pieces = (this.#rest + text).split('\n');
    this.#rest = pieces.pop() ?? '';
    const lines: CaptureLine[] = [];
    for (const piece of pieces) {
      this.#line += 1;
      if (piece === '' || piece === '\r') continue;
      const parsed = parseLine(piece);
      if (parsed.kind === 'bad') this.#refuse(parsed.reason);
      else lines.push(parsed);
    }
    if (this.#rest.length > LINE_CHARS_MAX) {
      throw new NotACapture(
        `${this.#file}:${this.#line + 1}: a line of more than ${LINE_CHARS_MAX} characters`,
      );
    }
    return lines;
  }

  #refuse(reason: string): void {
    this.#bad += 1;
    this.#wishes.onBadLine({ file: this.#file, line: this.#line, reason });
    if (this.#bad > this.#wishes.badLinesMax) {
      throw new NotACapture(
        `${this.#file}:${this.#line}: ${this.#bad} lines could not be read, the last: ${reason}`,
      );
    }
  }
}

/** Size of the files in bytes, for progress. Rejects with the system's error for the first that is missing. */
export async function sizeOfFiles(files: readonly string[]): Promise<number> {
  const sizes = await Promise.all(files.map(async (file) => (await stat(file)).size));
  return sizes.reduce((sum, size) => sum + size, 0);
}

/** Writes a capture. A disk too slow to follow ends it rather than filling the memory. */
export class CaptureWriter {
  lines = 0;
  /** why it ended early; null: it has not */
  fault: Error | null = null;
  readonly #file: Writable;
  readonly #gzip: Gzip | null;

  /** The file must not exist yet; an existing one is a fault, told by `fault` and `close`. */
  constructor(path: string) {
    this.#file = createWriteStream(path, { flags: 'wx' });
    this.#gzip = path.endsWith('.gz') ? createGzip() : null;
    this.#gzip?.pipe(this.#file);
    for (const stream of [this.#file, this.#gzip])
      stream?.on('error', (error: Error) => (this.fault ??= error));
  }

  write(event: CaptureEvent): void {
    if (this.fault !== null) return;
    const into = this.#gzip ?? this.#file;
    if (into.writableLength > WAITING_BYTES_MAX) {
      this.fault = new Error(
        `the disk takes the capture more slowly than messages come in: it ends after ${this.lines} lines`,
      );
      return;
    }
    into.write(`${formatLine(event)}\n`);
    this.lines += 1;
  }

  /** Resolves when everything is on the file; rejects with what went wrong. */
  async close(): Promise<void> {
    (this.#gzip ?? this.#file).end();
    await finished(this.#file).catch((error: Error) => (this.fault ??= error));
    if (this.fault !== null) throw this.fault;
  }
}

const WAITING_BYTES_MAX = 67_108_864;
