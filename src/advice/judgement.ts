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
  return writeDecimals(value, decimalsOf(value));
}

/** Decimals that show two digits that count: 6.13 -> 1, 0.084 -> 3, 0.998 -> 1 because it is written 1.0. */
function decimalsOf(value: number): number {
  if (value === 0 || !Number.isFinite(value)) return 0;
  const rounded = Number(Math.abs(value).toPrecision(2));
  return Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(rounded) + 1e-12)));
}

function writeDecimals(value: number, decimals: number): string {
  if (!Number.isFinite(value)) return 'any number';
  const [whole = '0', part] = value.toFixed(decimals).split('.');
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, ',');
  return part === undefined ? grouped : `${grouped}.${part}`;
}

/** Digits beyond two that anybody acts upon. */
const EXTRA_MOST = 2;

/** Near 1 two digits would hide on which side of it a value lies: 1.04 is not 1.0. */
function decimalsOfRatio(value: number): number {
  return value >= 0.995 && value < 1.995 ? 2 : decimalsOf(value);
}

/** "6.1 (4.8 to 7.9)", "1.04 (1.01 to 1.07)", "3.00 (2.98 to 3.02)": digits enough to tell the limits apart; without an upper limit "6.1 (4.8 or more)". */
export function writeRatio({ ratio, lower, upper }: RatioEvidence): string {
  const write = (value: number, extra: number): string =>
    writeDecimals(value, decimalsOfRatio(value) + extra);
  if (upper === null) return `${write(ratio, 0)} (${write(lower, 0)} or more)`;
  let extra = 0;
  while (extra < EXTRA_MOST && write(lower, extra) === write(upper, extra)) extra += 1;
  return `${write(ratio, extra)} (${write(lower, extra)} to ${write(upper, extra)})`;
}
