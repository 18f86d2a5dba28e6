/** A batch between its choice and its end. */
import type { Refused } from './delivery.js';
import type { SinkRecord } from './sink.js';

/** One batch. `settle`: what became of it is written down, durably; of several that are under way, the oldest first. */
export interface Step {
  readonly records: readonly SinkRecord[];
  settle(refused: readonly Refused[], now: number): void;
}
