/**
 * The words of the ledger as small integers and names: classes, reasons, flags, periods.
 * Why integers: an increment is held and stored a hundred million times a year.
 * Source: DESIGN section 4 for the seven classes; numbers are our choice and never reused.
 */

/** The class of an increment. `none`: an anchor or a torn reading, it carries no pulses. `pending`: not classified yet. */
export const Class = {
  none: 0,
  rejected: 1,
  check: 2,
  unattributed: 3,
  transient: 4,
  common: 5,
  running: 6,
  background: 7,
  pending: 8,
} as const;
export type Class = (typeof Class)[keyof typeof Class];

/** Class number to word. Index = class. */
export const CLASS_NAMES = [
  'none',
  'rejected',
  'check',
  'unattributed',
  'transient',
  'common',
  'running',
  'background',
  'pending',
] as const;

/** The seven classes of the ledger, in order of precedence (first that applies). */
export const LEDGER_CLASSES = [1, 2, 3, 4, 5, 6, 7] as const;

/** Why an increment is in its class, where the class alone does not say. */
export const Reason = {
  none: 0,
  implausibleRate: 1,
  tooLong: 2,
  unknownRunState: 3,
  noLength: 4,
  clockStep: 5,
  clockOff: 6,
  notSettled: 7,
  modulatingWhileStopped: 8,
  runningWithoutModulation: 9,
  powerUpUnknown: 10,
  coupledDrive: 11,
  straddlesEdge: 12,
} as const;
export type Reason = (typeof Reason)[keyof typeof Reason];

/** What the gate says of an increment. */
export interface Verdict {
  class: Class;
  reason: Reason;
}

export const REASON_NAMES = [
  '',
  'implausible-rate',
  'too-long',
  'unknown-run-state',
  'no-length',
  'clock-step',
  'clock-off',
  'run-state-not-settled',
  'modulating-while-stopped',
  'running-without-modulation',
  'power-up-unknown',
  'coupled-drive',
  'straddles-an-edge',
] as const;

/** Bits of `Increment.flags`. */
export const Flag = {
  /** first reading of a segment: anchors, carries no increment */
  anchor: 1,
  /** first reading of a new boot: its increment counts from 0 at power-up (it is no anchor) */
  fromZero: 2,
  /** an implausible reading found torn: skipped, kept as evidence */
  torn: 4,
  /** an implausible reading waiting for the next one to judge it */
  held: 8,
  /** its time is the time of arrival or otherwise doubtful: quality uncertain */
  uncertain: 16,
  /** the device was in a function check */
  check: 32,
  /** the device clock was off by more than `clockErrorMs` when it was taken */
  clockOff: 64,
  /** `to` and `from` come without `at` in the message */
  noAt: 128,
  /** the rate of its increment is implausible and no later reading showed it to be torn */
  rejected: 256,
  /** this reading or the one before it was taken during a function check */
  touchesCheck: 512,
  /** the counter wrapped within its increment, proven */
  wrapped: 1024,
  /** the device clock went back since the reading before it: nobody knows the length of its increment */
  stepped: 2048,
} as const;

/** Beside `clockOff`: the error of the clock, in four bits above the others, as the power of two in seconds that holds it. */
const CLOCK_ERROR_SHIFT = 12;
const CLOCK_ERROR_MASK = 15;
/** All that flags say of the device's clock. */
export const CLOCK_FLAGS = Flag.clockOff | (CLOCK_ERROR_MASK << CLOCK_ERROR_SHIFT);

export function flagClockError(errorMs: number): number {
  const power = Math.ceil(Math.log2(Math.max(1000, Math.abs(errorMs)) / 1000));
  return Flag.clockOff | (Math.min(power, CLOCK_ERROR_MASK) << CLOCK_ERROR_SHIFT);
}

/** Most that the clock was off by, ms; 0: it was not. */
export function clockErrorOf(flags: number): number {
  if ((flags & Flag.clockOff) === 0) return 0;
  return 1000 * 2 ** ((flags >> CLOCK_ERROR_SHIFT) & CLOCK_ERROR_MASK);
}

export type Period = '10s' | '1m' | '10m' | '1h';
export const PERIOD_MS: Readonly<Record<Period, number>> = {
  '10s': 10_000,
  '1m': 60_000,
  '10m': 600_000,
  '1h': 3_600_000,
};
