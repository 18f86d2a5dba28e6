/** What is known of one sensor of a motor that may go onto the plan list. */
import type { RatioEvidence } from './evidence.js';

/** One sensor of a candidate. Null: not known. */
export interface CandidateSensor {
  readonly position: string;
  /** against the median of its sisters */
  readonly sisters: RatioEvidence | null;
  /** the odd one out: beyond chance over the whole plant and more than twice its sisters */
  readonly isOdd: boolean;
  readonly baseline: RatioEvidence | null;
  /** running pulses since the bearing there was fitted, or since the first data */
  readonly dosePulses: number;
  readonly runningMs: number;
  /** since when, ms */
  readonly since: number | null;
  /** true: `since` is when the bearing was fitted; false: only when the data begins */
  readonly isSinceFitted: boolean;
}
