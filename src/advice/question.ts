/** The three questions that a person asks of the counts, and what is answered. Plain data; times in ms since the epoch. */
import type { ComparisonAnswer } from './comparison.js';
import type { SisterPlaced } from './sisters.js';

interface Period {
  readonly from: number;
  readonly to: number;
}

/** `from`, `to` null: the newest week of running, as far as it is comparable. */
export type CompareQuestion =
  | {
      readonly kind: 'baseline';
      readonly sensor: string;
      readonly from: number | null;
      readonly to: number | null;
    }
  | {
      readonly kind: 'sisters';
      readonly sensor: string;
      readonly from: number | null;
      readonly to: number | null;
    }
  | { readonly kind: 'around'; readonly sensor: string; readonly action: number }
  | { readonly kind: 'periods'; readonly sensor: string; readonly before: Period; readonly after: Period };

export type QuestionKind = CompareQuestion['kind'];

/** How the sensor scores among its sisters; null where the group is too small for a score. */
export interface SisterScore {
  readonly motors: number;
  /** one-sided: a rate so high among healthy motors */
  readonly p: number;
  /** p < 0.0005 and more than twice the group */
  readonly isOdd: boolean;
  /** the group falls into two halves, and nobody can say which is odd */
  readonly isTorn: boolean;
}

export interface SistersTold {
  readonly dutyGroup: string;
  /** from the loudest sister to the quietest, as the ratio of the motor to each */
  readonly placed: readonly SisterPlaced[];
  readonly leftOut: readonly { readonly name: string; readonly sharedMs: number }[];
  readonly score: SisterScore | null;
}

export interface ActionTold {
  readonly id: number;
  readonly kind: string;
  readonly at: number;
  readonly end: string | null;
  /** what was done, in words */
  readonly text: string;
  readonly isRemedy: boolean;
}

export interface QuestionAnswer {
  readonly kind: QuestionKind;
  readonly sensor: string;
  /** null: there is no answer yet, and `missing` says what it lacks */
  readonly comparison: ComparisonAnswer | null;
  /** '' : nothing */
  readonly missing: string;
  /** null: another question */
  readonly sisters: SistersTold | null;
  /** null: another question */
  readonly action: ActionTold | null;
  /** the answer, or that there is none yet and why, in one sentence */
  readonly sentence: string;
}
