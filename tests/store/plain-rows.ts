/** Outputs of a step made by hand: many plain readings of a counter that counts one pulse a second. */
import type { Increment, Outputs, Segment } from '../../src/core/rows.js';
import { Class, Reason } from '../../src/core/words.js';

export interface Counter {
  readonly sensor: string;
  readonly chain: number;
  /** null: its device sends neither boot nor seq */
  readonly boot: number | null;
  /** time of its first reading */
  readonly from: number;
  readonly readings: number;
}

export const STEP_MS = 10_000;
export const STEP_PULSES = 10;

export function incrementsOf({ sensor, chain, boot, from, readings }: Counter): Increment[] {
  return Array.from({ length: readings }, (_, i) => ({
    sensor,
    to: from + i * STEP_MS,
    from: from + Math.max(0, i - 1) * STEP_MS,
    chain,
    seq: boot === null ? null : i,
    count: i * STEP_PULSES,
    upMs: null,
    pulses: i === 0 ? 0 : STEP_PULSES,
    class: i === 0 ? Class.none : Class.running,
    reason: Reason.none,
    flags: 0,
    temperature: null,
    bin: '',
    stored: false,
  }));
}

function segmentOf({ sensor, chain, boot, from, readings }: Counter): Segment {
  return {
    sensor,
    chain,
    startTo: from,
    startSeq: boot === null ? -1 : 0,
    firstCount: 0,
    lastTo: from + (readings - 1) * STEP_MS,
    lastSeq: boot === null ? -1 : readings - 1,
    lastCount: (readings - 1) * STEP_PULSES,
    wraps: 0,
    modulus: 2 ** 32,
    openedBy: 'first',
    unknownReason: '',
    unknownFrom: 0,
    unknownTo: 0,
    unknownLow: 0,
    unknownHigh: null,
  };
}

/** Adds counters with all their readings to outputs that are otherwise as a step made them. */
export function addCounters(out: Outputs, counters: readonly Counter[]): Outputs {
  for (const counter of counters) {
    const { sensor, chain, boot } = counter;
    out.chains.push({ id: chain, sensor, device: `SN-${sensor}`, boot });
    for (const row of incrementsOf(counter)) out.increments.push(row);
    out.segments.push(segmentOf(counter));
  }
  return out;
}
