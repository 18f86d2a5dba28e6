/** What a lane is made with: one sink, its books, and time. */
import type { OutboxReader } from '../store/outbox-reader.js';
import type { Backfills } from './backfill.js';
import type { ForwardClock } from './clock.js';
import type { Quarantine } from './quarantine.js';
import type { Sink } from './sink.js';
import type { SinkBook } from './sink-book.js';

export interface LaneParts {
  readonly name: string;
  readonly deadlineMs: number;
  readonly retryMostMs: number;
  readonly backlogPerS: number;
  readonly book: SinkBook;
  readonly quarantine: Quarantine;
  readonly backfills: Backfills;
  readonly outbox: OutboxReader;
  readonly clock: ForwardClock;
  /** a new connection, not opened */
  makeSink(this: void): Sink;
  random(this: void): number;
  log(this: void, level: 'info' | 'warn' | 'error', facts: object, text: string): void;
}
