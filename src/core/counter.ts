/**
 * Counter differencing: from cumulative counts to increments. It judges, for one reading, what lies between
 * it and the reading before it: an increment, a wrap, a restart, a fall, a torn value.
 * Why here: every later figure rests on it, so wrap and reset are judged once.
 * Source: RFC 2578 section 7.1.6 for a wrapping counter (one value says nothing; only differences count);
 * the limits of proof are our choice: a wrap is believed only where a second one was impossible.
 */
import type { Increment } from './rows.js';
import type { SensorPlan } from './plan.js';
import { Flag } from './words.js';

export type Judgement =
  | { kind: 'increment'; pulses: number; wrapped: boolean }
  /** more than the plausible maximum, or a fall that nothing explains */
  | { kind: 'implausible'; pulses: number; fall: boolean; wrapped: boolean }
  /** the pulses between are unknowable: at least `low`, at most `high` */
  | { kind: 'unknown'; openedBy: 'restart' | 'width'; low: number; high: number | null };

/** Counter width to modulus; 53 bits: a counter that does not wrap. */
export function modulusOf(bits: 16 | 32 | 53): number {
  return bits === 16 ? 65_536 : bits === 32 ? 4_294_967_296 : Number.MAX_SAFE_INTEGER + 1;
}

/** Time between two readings of one counter, ms: by the device's own run time where both have it, else by their times. */
export function elapsedBetween(
  before: Increment,
  after: Increment,
  intervalMs: number,
  hasBoot: boolean,
): number {
  if (before.upMs !== null && after.upMs !== null && after.upMs > before.upMs)
    return after.upMs - before.upMs;
  const gap = after.to - before.to;
  if (gap > 0) return gap;
  if (hasBoot && before.seq !== null && after.seq !== null)
    return Math.max(0, (after.seq - before.seq) * intervalMs);
  return 0;
}

/** Most pulses that may pass in a time; Infinity-safe, never below 1. */
export function plausiblePulses(plan: SensorPlan, elapsedMs: number): number {
  return Math.floor((plan.maxRatePerS * elapsedMs) / 1000) + 1;
}

function isRestart(before: Increment, after: Increment, hasBoot: boolean): boolean {
  if (hasBoot) return false;
  if (before.seq !== null && after.seq !== null && after.seq < before.seq) return true;
  return before.upMs !== null && after.upMs !== null && after.upMs < before.upMs;
}

function isUnbroken(before: Increment, after: Increment, hasBoot: boolean): boolean {
  if (hasBoot) return true;
  if (before.seq !== null && after.seq !== null) return after.seq > before.seq;
  if (before.upMs !== null && after.upMs !== null)
    return after.upMs - before.upMs >= 0.9 * (after.to - before.to) - 2000;
  return false;
}

/**
 * What lies between two readings in chain order. `hasBoot`: the chain is one boot of one device, so no restart can
 * hide between them. High is null where no elapsed time is known.
 */
export function judge(plan: SensorPlan, before: Increment, after: Increment, hasBoot: boolean): Judgement {
  const elapsed = elapsedBetween(before, after, plan.intervalMs, hasBoot);
  const most = elapsed > 0 ? plausiblePulses(plan, elapsed) : null;
  if (isRestart(before, after, hasBoot))
    return { kind: 'unknown', openedBy: 'restart', low: after.count, high: most };
  const difference = after.count - before.count;
  if (plan.counterBits !== 53) {
    const modulus = modulusOf(plan.counterBits);
    const provable = elapsed > 0 && elapsed < (modulus / plan.maxRatePerS) * 1000;
    if (isUnbroken(before, after, hasBoot) && (difference < 0 || !provable)) {
      const pulses = difference < 0 ? difference + modulus : difference;
      if (!provable) return { kind: 'unknown', openedBy: 'width', low: pulses, high: most };
      return most !== null && pulses > most
        ? { kind: 'implausible', pulses, fall: false, wrapped: difference < 0 }
        : { kind: 'increment', pulses, wrapped: difference < 0 };
    }
    if (difference >= 0 && !provable)
      return { kind: 'unknown', openedBy: 'width', low: difference, high: most };
  }
  if (difference < 0) return { kind: 'implausible', pulses: difference, fall: true, wrapped: false };
  if (most !== null && difference > most)
    return { kind: 'implausible', pulses: difference, fall: false, wrapped: false };
  return { kind: 'increment', pulses: difference, wrapped: false };
}

/** Whether the reading after a doubtful one goes on from the last good one, which makes the doubtful one torn. */
export function fits(plan: SensorPlan, good: Increment, next: Increment, hasBoot: boolean): boolean {
  return judge(plan, good, next, hasBoot).kind === 'increment';
}

/** A reading that counts: neither torn nor still held back. */
export function isGood(row: Increment): boolean {
  return (row.flags & (Flag.torn | Flag.held)) === 0;
}
