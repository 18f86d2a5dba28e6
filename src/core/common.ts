/**
 * Common bursts: counts that rise on several motors at once come from outside. Each sensor tells its zone which of its
 * increments lie in bursting windows and when it has a vote; an increment is common when at some instant of it enough
 * other motors burst. A sensor's own count never decides, or the rule would hide what we look for.
 * Source: our choice; thresholds come from the configuration.
 */
import type { CommonPlan } from './plan.js';
import type { Burst, Increment, Vote } from './rows.js';

/** Whether the last hour allows a vote on the window [start, start + 10 s): no change of its own within `quietMs` before its end. */
export function isQuiet(changes: readonly number[], windowEnd: number, quietMs: number): boolean {
  for (let i = changes.length - 1; i >= 0; i--) {
    const change = changes[i]!;
    if (change >= windowEnd) continue;
    return windowEnd - change >= quietMs;
  }
  return true;
}

/** Bursts of other motors that overlap [from, to). */
export function burstsAround(bursts: readonly Burst[], motor: string, from: number, to: number): Burst[] {
  return bursts.filter((burst) => burst.motor !== motor && burst.from < to && burst.to > from);
}

/** Most distinct motors whose bursts hold one instant of [from, to). */
export function mostAtOnce(bursts: readonly Burst[], from: number, to: number): number {
  let most = 0;
  for (const probe of bursts) {
    const instant = Math.max(probe.from, from);
    if (instant >= to) continue;
    const motors = new Set<string>();
    for (const burst of bursts) if (burst.from <= instant && burst.to > instant) motors.add(burst.motor);
    most = Math.max(most, motors.size);
  }
  return most;
}

/** Distinct other motors with a vote on the window. */
export function countVoters(votes: readonly Vote[], motor: string, window: number): number {
  const motors = new Set<string>();
  for (const vote of votes)
    if (vote.motor !== motor && vote.from <= window && vote.to > window) motors.add(vote.motor);
  return motors.size;
}

/** Whether an increment coincides with a burst heard on enough other motors. `window`: start of its base window. */
export function isCommon(
  plan: CommonPlan,
  bursts: readonly Burst[],
  votes: readonly Vote[],
  motor: string,
  row: Increment,
  window: number,
): boolean {
  if (bursts.length < plan.motorsMin) return false;
  const around = burstsAround(bursts, motor, row.from, row.to);
  if (around.length < plan.motorsMin) return false;
  const most = mostAtOnce(around, row.from, row.to);
  return most >= plan.motorsMin && most >= plan.shareMin * countVoters(votes, motor, window);
}

/** Stretches of base windows in which a vote was held, from windows (starts, ascending) that had one. `slackMs`: longest pause inside a stretch. */
export function joinVotes(windows: readonly number[], slackMs: number): { from: number; to: number }[] {
  const joined: { from: number; to: number }[] = [];
  for (const window of windows) {
    const last = joined[joined.length - 1];
    if (last !== undefined && window <= last.to) last.to = window + slackMs;
    else joined.push({ from: window, to: window + slackMs });
  }
  return joined;
}
