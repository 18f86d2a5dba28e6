/**
 * What pictures are drawn from, asked of reading threads: series of the rate, the bands under it, and duty groups side by
 * side. Every answer is bounded, whatever span is asked for. Times in ms since the epoch, rates in pulses per minute of
 * running exposure, corrected for dead time.
 */
import type { BaselineTold } from '../advice/baseline.js';
import type { Fleet } from '../advice/fleet.js';
import type { MaintenanceAction, Finding } from '../core/maintenance-rows.js';
import type { Period } from '../core/words.js';

export interface SeriesQuery {
  readonly sensor: string;
  readonly from: number;
  readonly to: number;
  /** most buckets of the answer */
  readonly points: number;
  readonly deadTimeS: number;
  /** false: no run-state signal, taken as running throughout, uncertain */
  readonly hasRunState: boolean;
  /** the whole span in one figure is wanted too */
  readonly hasTotal: boolean;
}

/** The rate over a span, judged by its days. Infinity: dead time leaves no bound. */
export interface SpanTotal {
  readonly pulses: number;
  readonly ms: number;
  readonly mean: number;
  readonly lower: number;
  readonly upper: number;
  readonly days: number;
  readonly isUncertain: boolean;
}

/** Everything that was counted in the whole hours of a span; places 1 to 7 are the classes. */
export interface SpanHours {
  readonly from: number;
  readonly to: number;
  readonly classPulses: readonly number[];
  readonly classMs: readonly number[];
}

export interface SeriesPoint {
  readonly start: number;
  readonly end: number;
  /** running pulses and exposure */
  readonly pulses: number;
  readonly ms: number;
  /** null: no running exposure; Infinity: dead time leaves no bound */
  readonly mean: number | null;
  /** lowest and highest rate of the rollups inside */
  readonly least: number | null;
  readonly most: number | null;
  /** 95 % limits of the mean */
  readonly lower: number | null;
  readonly upper: number | null;
  readonly dispersion: number;
  readonly quality: 'good' | 'uncertain' | 'bad';
  /** what the baseline predicts for the conditions that it ran in; null: for less than half of them there is a yardstick */
  readonly baseline: number | null;
  /** pulses and ms by class, places 1 to 7 */
  readonly classPulses: readonly number[];
  readonly classMs: readonly number[];
}

/** A longer stretch of the same series, with limits that a picture can show. */
export interface SeriesPiece {
  readonly start: number;
  readonly end: number;
  /** running pulses and exposure; the exposure is above zero */
  readonly pulses: number;
  readonly ms: number;
  /** Infinity: dead time leaves no bound */
  readonly mean: number;
  readonly lower: number;
  readonly upper: number;
  readonly dispersion: number;
  readonly quality: 'good' | 'uncertain';
}

export interface Series {
  readonly sensor: string;
  /** whole buckets */
  readonly from: number;
  readonly to: number;
  /** of the rollups that were reduced */
  readonly period: Period;
  readonly bucketMs: number;
  /** the yardstick behind the points' baseline */
  readonly baseline: BaselineTold;
  /** every bucket from the first to the last that holds anything; empty: nothing was counted then */
  readonly points: readonly SeriesPoint[];
  /** a multiple of bucketMs */
  readonly pieceMs: number;
  /** those in which anything ran */
  readonly pieces: readonly SeriesPiece[];
  /** null: not asked for, or nothing ran */
  readonly total: SpanTotal | null;
  /** null: not asked for */
  readonly hours: SpanHours | null;
}

export interface TimelineQuery {
  readonly motor: string;
  readonly sensors: readonly string[];
  readonly from: number;
  readonly to: number;
  /** most buckets of speed and load */
  readonly points: number;
  readonly heartbeatMs: number | null;
  readonly hasRunState: boolean;
  readonly limit: number;
  readonly cursor: string | null;
}

/** Time of a piece of the strip by what the motor did, ms. */
export interface PieceMs {
  readonly running: number;
  readonly standing: number;
  readonly changing: number;
  readonly unknown: number;
}

export type StripState = 'stopped' | 'starting' | 'running' | 'stopping' | 'fault' | 'unknown' | 'several';

/** `several`: more than one state, too short to be told apart at this span; `ms` says for how long each. */
export interface StripPiece {
  readonly from: number;
  readonly to: number;
  readonly state: StripState;
  /** null: not told at this span */
  readonly modulating: boolean | null;
  readonly ms: PieceMs | null;
}

/** One start or stop, or several that lie too close to be told apart at this span. */
export interface TransientMark {
  readonly from: number;
  readonly to: number;
  readonly kind: 'start' | 'stop' | 'start-stop' | 'other';
  readonly transients: number;
  readonly edges: number;
  readonly counts: readonly { readonly sensor: string; readonly pulses: number; readonly ms: number }[];
}

export interface Reach {
  readonly min: number;
  readonly mean: number;
  readonly max: number;
}

export interface ConditionPoint {
  readonly start: number;
  readonly end: number;
  /** null: nobody told it meanwhile */
  readonly speedRpm: Reach | null;
  readonly loadPct: Reach | null;
}

export interface AlarmMark {
  /** number of the journal's entry */
  readonly id: number;
  readonly at: number;
  readonly alarm: string;
  readonly what: string;
  readonly text: string;
  readonly hasEvidence: boolean;
}

export type Mark =
  | { readonly kind: 'action'; readonly row: MaintenanceAction }
  | { readonly kind: 'finding'; readonly row: Finding }
  | { readonly kind: 'alarm'; readonly row: AlarmMark };

export interface Timeline {
  readonly strip: readonly StripPiece[];
  /** from here on the strip is exact, from the drive's messages; before it, it is told by the classes of the counts */
  readonly exactFrom: number;
  readonly transients: readonly TransientMark[];
  readonly condition: {
    readonly bucketMs: number;
    readonly isSampled: boolean;
    readonly points: readonly ConditionPoint[];
  };
  /** in order of time */
  readonly marks: readonly Mark[];
  readonly next: string | null;
}

export interface GroupQuery {
  readonly fleet: Fleet;
  readonly group: string;
  /** null: the newest week of running, as far as it is comparable */
  readonly from: number | null;
  readonly to: number | null;
  /** the end of the week where nothing was counted yet, ms */
  readonly now: number;
  /** by sensor */
  readonly deadTimesS: Readonly<Record<string, number>>;
}

export interface RateWithLimits {
  readonly mean: number;
  readonly lower: number;
  /** Infinity: no bound */
  readonly upper: number;
}

export interface GroupCell {
  readonly bin: string;
  readonly pulses: number;
  readonly ms: number;
  readonly dispersion: number;
  readonly rate: RateWithLimits;
}

export interface GroupSensor {
  readonly sensor: string;
  readonly from: number | null;
  readonly to: number | null;
  readonly cells: readonly GroupCell[];
  /** among its sisters, like bins with like bins; null: too little shared, or too small a group */
  readonly matched: {
    readonly rate: RateWithLimits;
    readonly ratio: RateWithLimits;
    readonly pulses: number;
    readonly ms: number;
    readonly p: number;
    readonly motors: number;
    readonly isOdd: boolean;
    readonly isTorn: boolean;
  } | null;
  /** said of the odd one, and of those that cannot be told apart; '' : nothing */
  readonly sentence: string;
}

export interface GroupBin {
  readonly bin: string;
  /** why counts in it compare with nothing; null: they do */
  readonly unlike: string | null;
  readonly motors: number;
  readonly ms: number;
}

export interface GroupPicture {
  readonly group: string;
  readonly from: number;
  readonly to: number;
  /** from the most visited to the least */
  readonly bins: readonly GroupBin[];
  readonly sensors: readonly GroupSensor[];
  /** what a comparison still lacks, by position; '' : nothing */
  readonly positions: readonly { readonly position: string; readonly missing: string }[];
}

/** Each rejects with `code` and `hint`; `code` is `cursor` where the cursor is not one of its own. */
export interface ChartsReader {
  series(query: SeriesQuery): Promise<Series>;
  timeline(query: TimelineQuery): Promise<Timeline>;
  group(query: GroupQuery): Promise<GroupPicture>;
}
