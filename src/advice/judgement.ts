/** From a ratio with limits to a word: decided only where the limits decide it. The factors are our choices, stated here. */
import type { RatioEvidence } from './evidence.js';
import type { Course, Effect } from './observation.js';

/** Changes smaller than a quarter either way are called level: below what the trade would act upon. */
export const LEVEL_FACTOR = 1.25;
/** Two ends, or a motor and its sisters, are alike within a factor of two: as the alarm on peers has it. */
export const ALIKE_FACTOR = 2;

/** null: the limits leave it open. */
export function courseOf({ lower, upper }: RatioEvidence): Course | null {
  if (lower > LEVEL_FACTOR) return 'rises';
  if (upper === null) return null;
  if (upper < 1 / LEVEL_FACTOR) return 'falls';
  return lower >= 1 / LEVEL_FACTOR && upper <= LEVEL_FACTOR ? 'level' : null;
}

/** Of an action: a change counts as soon as the limits exclude 1, for a remedy that helps a little still helped. */
export function effectOf({ lower, upper }: RatioEvidence): Effect | null {
  if (lower > 1) return 'rose';
  if (upper === null) return null;
  if (upper < 1) return 'fell';
  return lower >= 1 / LEVEL_FACTOR && upper <= LEVEL_FACTOR ? 'same' : null;
}

/** Whether two sides are alike within the factor, different beyond it, or not decided (null). */
export function likenessOf({ lower, upper }: RatioEvidence): 'alike' | 'more' | 'less' | null {
  if (lower > ALIKE_FACTOR) return 'more';
  if (upper === null) return null;
  if (upper < 1 / ALIKE_FACTOR) return 'less';
  return lower >= 1 / ALIKE_FACTOR && upper <= ALIKE_FACTOR ? 'alike' : null;
}

/** 6.13 -> "6.1", 0.084 -> "0.084", 31,400 -> "31,400": two digits that count, or all before the point. */
export function writeFactor(value: number): string {
  if (value === 0) return '0';
  if (!Number.isFinite(value)) return 'any number';
  const digits = Math.max(0, 1 - Math.floor(Math.log10(Math.abs(value)) + 1e-12));
  const fixed = value.toFixed(Math.min(digits, 6));
  const [whole = '0', part] = fixed.split('.');
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, ',');
  return part === undefined ? grouped : `${grouped}.${part}`;
}

/** "6.1 (4.8 to 7.9)"; without an upper limit "6.1 (4.8 or more)". */
export function writeRatio({ ratio, lower, upper }: RatioEvidence): string {
  const limits =
    upper === null ? `${writeFactor(lower)} or more` : `${writeFactor(lower)} to ${writeFactor(upper)}`;
  return `${writeFactor(ratio)} (${limits})`;
}
