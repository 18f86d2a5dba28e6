/**
 * A logarithmic axis for rates and ratios. Zero has no logarithm: it gets a place of its own at the low end, apart from the
 * smallest rate, so that "counted nothing" is seen and never mistaken for "did not run". Pure.
 */

export interface LogScale {
  /** least and most value of the axis, powers of ten times 1, 2 or 5 */
  readonly least: number;
  readonly most: number;
  /** a value is zero or below: the axis has a place for zero */
  readonly hasZero: boolean;
  /** place of a value, 0 to 1; values beyond the ends are put at them; zero: 0 */
  place(value: number): number;
  isBeyond(value: number): boolean;
}

/** Share of the axis that is kept for zero. */
const ZERO_SHARE = 0.08;

/** Holds all of the values that are finite and above zero, with some room; without any, 0.1 to 10. */
export function makeLogScale(values: readonly number[], around: readonly number[] = []): LogScale {
  const known = [...values, ...around].filter((value) => Number.isFinite(value) && value > 0);
  const hasZero = values.some((value) => value === 0);
  const least = floorNice(known.length === 0 ? 0.1 : Math.min(...known) / 1.15);
  const most = Math.max(ceilNice(known.length === 0 ? 10 : Math.max(...known) * 1.15), least * 10);
  const start = hasZero ? ZERO_SHARE : 0;
  const span = Math.log(most / least);
  return {
    least,
    most,
    hasZero,
    place(value) {
      if (!(value > 0)) return 0;
      const share = Math.log(Math.min(Math.max(value, least), most) / least) / span;
      return start + (1 - start) * share;
    },
    isBeyond: (value) => value > most || (value > 0 && value < least),
  };
}

const NICE = [1, 2, 5, 10];

function floorNice(value: number): number {
  const power = 10 ** Math.floor(Math.log10(value));
  return power * [...NICE].reverse().find((nice) => nice * power <= value * (1 + 1e-9))!;
}

function ceilNice(value: number): number {
  const power = 10 ** Math.floor(Math.log10(value));
  return power * NICE.find((nice) => nice * power >= value * (1 - 1e-9))!;
}

export interface LogTick {
  readonly value: number;
  readonly label: string;
}

/** Marks of the axis from low to high; fewer of them the more decades it has. Zero first, where the axis has it. */
export function listLogTicks({ least, most, hasZero }: LogScale): LogTick[] {
  const decades = Math.log10(most / least);
  const steps = decades > 4 ? [1] : decades > 1.5 ? [1, 3] : [1, 2, 5];
  const ticks: LogTick[] = hasZero ? [{ value: 0, label: '0' }] : [];
  for (let power = Math.floor(Math.log10(least)); 10 ** power <= most * (1 + 1e-9); power++) {
    for (const step of steps) {
      const value = Number((step * 10 ** power).toPrecision(3));
      if (value >= least * (1 - 1e-9) && value <= most * (1 + 1e-9))
        ticks.push({ value, label: nameValue(value) });
    }
  }
  return ticks;
}

function nameValue(value: number): string {
  if (value >= 10_000) return `${value / 1000}k`;
  return value >= 1 ? String(value) : value.toPrecision(1).replace(/e-(\d)$/, 'e-$1');
}
