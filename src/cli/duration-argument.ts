/** Lengths of time given on the command line. */
import { type Arguments, optionalTextOf, UsageError } from './command.js';

const UNIT_MS: Readonly<Record<string, number>> = {
  ms: 1,
  s: 1_000,
  min: 60_000,
  h: 3_600_000,
  d: 86_400_000,
};

/** `90s`, `10min`, `1.5h` in ms; null: not given. Throws `UsageError` outside `least`..`most` (ms), or without a unit. */
export function durationOf(args: Arguments, name: string, least: number, most: number): number | null {
  const text = optionalTextOf(args, name);
  if (text === null) return null;
  const parts = /^(\d{1,9}(?:\.\d{1,3})?)\s*([a-z]+)$/.exec(text);
  const unit = UNIT_MS[parts?.[2] === 'm' ? 'min' : (parts?.[2] ?? '')];
  if (unit === undefined) {
    throw new UsageError(`--${name} "${text}" is no length of time.`, 'Write it like 60s, 10min, 2h or 1d.');
  }
  const ms = Math.round(Number(parts?.[1]) * unit);
  if (ms >= least && ms <= most) return ms;
  throw new UsageError(`--${name} must be ${writeDuration(least)} to ${writeDuration(most)}, not ${text}.`);
}

/** In the largest unit that leaves no more than one decimal worth reading: `10 s`, `7 d`, `1.5 h`. */
export function writeDuration(ms: number): string {
  const [name, unit] = Object.entries(UNIT_MS).findLast(([, each]) => ms >= each) ?? ['ms', 1];
  return `${Number((ms / unit).toFixed(1))} ${name}`;
}
