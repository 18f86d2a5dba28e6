/**
 * A batch as one transaction: what is copied, in which order, and which record stands on which line, so that a value that the
 * server cannot take is found at once.
 */
import type { SinkParts, SinkRecord, Stream } from '../sink.js';
import { STREAMS } from '../sink.js';
import { toCells } from './cells.js';
import { writeCopyRow } from './copy-text.js';

export interface Copy {
  readonly stream: Stream;
  /** written as they are asked for, so that the server reads the first while the next is written. Throws `UnwritableRecord` */
  readonly chunks: Iterable<Buffer>;
  /** place in the batch of the record on each line */
  readonly lines: readonly number[];
}

/** Its row cannot even be written down, such as a time that is no time. */
export class UnwritableRecord extends Error {
  constructor(
    /** place in the batch */
    readonly index: number,
    reason: string,
  ) {
    super(reason);
  }
}

/** In the order of `STREAMS`. Of records with one key the highest revision goes, the last of equals. */
export function copyBatch(records: readonly SinkRecord[], adviceOf: SinkParts['adviceOf']): Copy[] {
  const byStream = new Map<Stream, Map<string, number>>();
  records.forEach((record, i) => {
    const { stream } = record.content;
    let kept = byStream.get(stream);
    if (kept === undefined) byStream.set(stream, (kept = new Map<string, number>()));
    const before = kept.get(record.key);
    if (before === undefined || records[before]!.revision <= record.revision) kept.set(record.key, i);
  });
  return STREAMS.flatMap((stream) => {
    const kept = byStream.get(stream);
    if (kept === undefined) return [];
    const lines = [...kept.values()];
    return [{ stream, lines, chunks: writeChunks(records, lines, adviceOf) }];
  });
}

const ROWS_OF_CHUNK = 250;

function* writeChunks(
  records: readonly SinkRecord[],
  lines: readonly number[],
  adviceOf: SinkParts['adviceOf'],
): Generator<Buffer> {
  for (let from = 0; from < lines.length; from += ROWS_OF_CHUNK) {
    let text = '';
    for (const i of lines.slice(from, from + ROWS_OF_CHUNK)) text += writeLine(records[i]!, i, adviceOf);
    yield Buffer.from(text);
  }
}

function writeLine(record: SinkRecord, index: number, adviceOf: SinkParts['adviceOf']): string {
  try {
    return writeCopyRow(toCells(record, adviceOf));
  } catch (error) {
    throw new UnwritableRecord(index, `${record.content.stream} ${record.key}: ${String(error)}`);
  }
}
