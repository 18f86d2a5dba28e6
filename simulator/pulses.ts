/**
 * The pulses of one sensor, each with its time and its cause, and how many of them its device counted. Counts over any
 * stretch are exact: whatever a reading says, this says where it came from.
 */
import type { Interval } from './happenings.js';
import type { Random } from './random.js';

/** What made a pulse. */
export const Cause = { own: 0, start: 1, stop: 2, crosstalk: 3, site: 4, background: 5, check: 6 } as const;
export type Cause = (typeof Cause)[keyof typeof Cause];
export type CauseName = keyof typeof Cause;
export const CAUSE_NAMES = Object.keys(Cause) as readonly CauseName[];

/** Time, cause and size of a group of pulses in one number: 32 bits of ms, 3 of cause, 16 of size. */
const SIZE_SPAN = 65_536;
const CAUSE_SPAN = 8;
/** Longest run, for 32 bits of milliseconds: 49 days. */
export const SPAN_MS_MAX = 2 ** 32;

/** Gathers pulses in any order. */
export class PulseCollector {
  private keys = new Float64Array(1_024);
  private length = 0;

  constructor(private readonly from: number) {}

  /** `at`: whole milliseconds since the epoch, not before the run. */
  add(at: number, cause: Cause, size: number): void {
    for (let left = size; left > 0; left -= SIZE_SPAN - 1) {
      if (this.length === this.keys.length) {
        const wider = new Float64Array(this.keys.length * 2);
        wider.set(this.keys);
        this.keys = wider;
      }
      const part = Math.min(left, SIZE_SPAN - 1);
      this.keys[this.length++] = ((at - this.from) * CAUSE_SPAN + cause) * SIZE_SPAN + part;
    }
  }

  /** All keys in order of time. */
  sort(): Float64Array {
    return this.keys.slice(0, this.length).sort();
  }
}

/** What decides whether a pulse is counted, and whether it fell while the motor ran. */
export interface CountingRules {
  readonly deadTimeS: number;
  /** ascending stretches in which the device had power */
  readonly powered: readonly Interval[];
  /** ascending stretches of true running with modulation */
  readonly running: readonly Interval[];
}

/** A finished train. Arrays have one entry a group; sums run up to and including it. */
export class PulseTrain {
  private readonly times: Uint32Array;
  private readonly causes: Uint8Array;
  private readonly counted: Uint32Array;
  private readonly countedRunning: Uint32Array;
  /** pulses lost in the dead time of the device, while it had power */
  lostToDeadTime = 0;
  /** pulses that nobody heard because the device had no power */
  lostToPower = 0;

  constructor(
    private readonly from: number,
    keys: Float64Array,
    rules: CountingRules,
    random: Random,
  ) {
    this.times = new Uint32Array(keys.length);
    this.causes = new Uint8Array(keys.length);
    this.counted = new Uint32Array(keys.length);
    this.countedRunning = new Uint32Array(keys.length);
    this.fill(keys, rules, random);
  }

  private fill(keys: Float64Array, rules: CountingRules, random: Random): void {
    const crowd = openCrowd(keys);
    const isPowered = openInside(rules.powered, this.from);
    const isRunning = openInside(rules.running, this.from);
    let counted = 0;
    let running = 0;
    for (let i = 0; i < keys.length; i++) {
      const key = keys[i]!;
      const size = key % SIZE_SPAN;
      const place = Math.floor(key / SIZE_SPAN);
      const cause = place % CAUSE_SPAN;
      const time = (place - cause) / CAUSE_SPAN;
      this.times[i] = time;
      this.causes[i] = cause;
      if (isPowered(time)) {
        const passed =
          rules.deadTimeS === 0 ? size : random.binomial(size, 1 / (1 + crowd(time, i) * rules.deadTimeS));
        this.lostToDeadTime += size - passed;
        counted += passed;
        if (cause !== Cause.check && isRunning(time)) running += passed;
      } else {
        this.lostToPower += size;
      }
      this.counted[i] = counted;
      this.countedRunning[i] = running;
    }
  }

  /** Pulses counted in [from, to), checks included. */
  count(from: number, to: number): number {
    return this.upTo(this.counted, to) - this.upTo(this.counted, from);
  }

  /** Pulses counted in [from, to) while the motor truly ran with modulation; pulses of a function check excepted. */
  countRunning(from: number, to: number): number {
    return this.upTo(this.countedRunning, to) - this.upTo(this.countedRunning, from);
  }

  /** Counted pulses in [from, to), by cause. */
  countByCause(from: number, to: number): Record<CauseName, number> {
    const sums = { own: 0, start: 0, stop: 0, crosstalk: 0, site: 0, background: 0, check: 0 };
    const end = this.find(to);
    for (let i = this.find(from); i < end; i++) {
      sums[CAUSE_NAMES[this.causes[i]!]!] += this.counted[i]! - (i === 0 ? 0 : this.counted[i - 1]!);
    }
    return sums;
  }

  /** A counter read at times that never fall: all pulses counted before that time. */
  openCounter(): (at: number) => number {
    let index = 0;
    return (at) => {
      const time = at - this.from;
      while (index < this.times.length && this.times[index]! < time) index += 1;
      return index === 0 ? 0 : this.counted[index - 1]!;
    };
  }

  private upTo(sums: Uint32Array, at: number): number {
    const index = this.find(at);
    return index === 0 ? 0 : sums[index - 1]!;
  }

  /** Index of the first group at or after `at`. */
  private find(at: number): number {
    const time = at - this.from;
    let low = 0;
    let high = this.times.length;
    while (low < high) {
      const middle = (low + high) >>> 1;
      if (this.times[middle]! < time) low = middle + 1;
      else high = middle;
    }
    return low;
  }
}

const CROWD_MS = 100;

/**
 * How many other pulses a second there are around a pulse, from those within 100 ms before and after it. A pulse
 * survives a non-paralysable dead time τ with the chance 1 / (1 + n τ).
 */
function openCrowd(keys: Float64Array): (time: number, index: number) => number {
  const timeOf = (i: number): number => Math.floor(keys[i]! / (SIZE_SPAN * CAUSE_SPAN));
  let low = 0;
  let high = 0;
  let inside = 0;
  return (time) => {
    for (; high < keys.length && timeOf(high) <= time + CROWD_MS; high++) inside += keys[high]! % SIZE_SPAN;
    for (; timeOf(low) < time - CROWD_MS; low++) inside -= keys[low]! % SIZE_SPAN;
    return ((inside - 1) * 1_000) / (2 * CROWD_MS + 1);
  };
}

/** Is a time (from the beginning of the run) in one of the ascending stretches? Ask with times that never fall. */
function openInside(intervals: readonly Interval[], from: number): (time: number) => boolean {
  let index = 0;
  return (time) => {
    while (index < intervals.length && intervals[index]!.to - from <= time) index += 1;
    const interval = intervals[index];
    return interval !== undefined && interval.from - from <= time;
  };
}
