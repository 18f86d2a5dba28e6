/**
 * What another look at a sensor changes for its zone: its bursts and its votes. Where they come out differently and enough
 * motors burst, the others look again too.
 */
import { joinVotes } from './common.js';
import type { Surroundings } from './gate.js';
import { WINDOW_MS, type WindowRing } from './ring.js';
import type { Burst, DriveRow, Increment, Vote } from './rows.js';
import { markDirty, type CoreState, type SensorState, type ZoneState } from './state.js';
import { voteSlack } from './vote.js';
import { PERIOD_MS } from './words.js';

/** A look at a sensor's past: base windows [from, to) are judged anew, those up to `end` followed until nothing changes. */
export interface Look {
  sensor: SensorState;
  zone: ZoneState;
  from: number;
  to: number;
  end: number;
  rows: Increment[];
  around: Surroundings;
  /** messages of its own drive, ascending */
  drives: readonly DriveRow[];
  ring: WindowRing;
  bursts: Burst[];
  votes: Vote[];
  settled: number;
}

/** The sensor's bursts in the range become those found now; where they differ the zone looks again. */
export function replaceBursts(state: CoreState, look: Look, found: readonly Burst[], stop: number): void {
  const { sensor, zone } = look;
  const mine = look.bursts.filter((b) => b.sensor === sensor.key && b.window >= look.from && b.window < stop);
  const key = (burst: Burst): string => `${burst.from}/${burst.to}`;
  const before = new Set(mine.map(key));
  const now = new Set(found.map(key));
  const gone = mine.filter((burst) => !now.has(key(burst)));
  const come = found.filter((burst) => !before.has(key(burst)));
  if (gone.length === 0 && come.length === 0) return;
  const stale = new Set(gone.map(key));
  for (const burst of [...gone, ...come]) markNeighbours(state, look, burst.from, burst.to, burst);
  zone.bursts = zone.bursts.filter((burst) => burst.sensor !== sensor.key || !stale.has(key(burst)));
  const recent = state.now - 2 * PERIOD_MS['1h'];
  zone.bursts.push(...come.filter((burst) => burst.to > recent));
  for (const burst of gone)
    state.out.removedBursts.push({ sensor: burst.sensor, from: burst.from, to: burst.to });
  state.out.bursts.push(...come);
}

/** Marks the other sensors where this one's part in a burst changed and enough motors burst for it to matter. */
function markNeighbours(state: CoreState, look: Look, from: number, to: number, mine: Burst | null): void {
  const motors = new Set<string>(mine === null ? [] : [mine.motor]);
  for (const burst of look.bursts) if (burst.from < to && burst.to > from) motors.add(burst.motor);
  if (motors.size < state.plan.common.motorsMin) return;
  for (const motor of look.zone.motors) {
    for (const other of motor.sensors) {
      if (other === look.sensor) continue;
      markDirty(state, other, from, to + state.plan.gate.maxIntervalFactor * other.plan.intervalMs);
    }
  }
}

/** The sensor's votes in the range become those held now. */
export function replaceVotes(state: CoreState, look: Look, voted: readonly number[], stop: number): void {
  const { sensor, zone } = look;
  const slack = voteSlack(sensor);
  const old = look.votes.filter((v) => v.sensor === sensor.key && v.to > look.from && v.from < stop);
  const spans = joinVotes(voted, slack);
  const first = old[0];
  if (first !== undefined && first.from < look.from) {
    const head = { from: first.from, to: Math.min(first.to, look.from) };
    const joins = spans[0];
    if (joins !== undefined && joins.from <= first.to && joins.from <= look.from + slack)
      joins.from = first.from;
    else spans.unshift(head);
  }
  const last = old[old.length - 1];
  if (last !== undefined && last.to > stop + slack) {
    const joins = spans[spans.length - 1];
    if (joins !== undefined && joins.to >= stop) joins.to = Math.max(joins.to, last.to);
    else spans.push({ from: Math.max(stop, last.from), to: last.to });
  }
  const same =
    spans.length === old.length && spans.every((s, i) => s.from === old[i]!.from && s.to === old[i]!.to);
  if (same) return;
  const gone = new Set(old.map((v) => v.from));
  zone.votes = zone.votes.filter((v) => v.sensor !== sensor.key || !gone.has(v.from));
  for (const vote of old) state.out.removedVotes.push({ sensor: sensor.key, from: vote.from });
  const votes = spans.map((s) => ({ zone: zone.key, motor: sensor.motor.key, sensor: sensor.key, ...s }));
  zone.votes.push(...votes);
  state.out.votes.push(...votes);
  if (sensor.vote !== null && gone.has(sensor.vote.from)) {
    const newest = votes[votes.length - 1];
    sensor.vote = newest !== undefined && newest.to >= sensor.vote.to ? newest : null;
  }
  for (const burst of look.bursts) {
    if (burst.from < stop && burst.to > look.from) markNeighbours(state, look, burst.from, burst.to, null);
  }
}

/**
 * Windows that the live ring still covers take their new sums. True when one differs: what was swept since the look was
 * asked for rests on the old sums.
 */
export function copyRing(look: Look, stop: number): boolean {
  const live = look.sensor.ring;
  let changed = false;
  const first = Math.max(look.from, look.sensor.sweptTo - (look.sensor.ring.size - 1) * WINDOW_MS);
  for (let window = first; window < stop; window += WINDOW_MS) {
    const index = window / WINDOW_MS;
    const ms = look.ring.msAt(index);
    const pulses = look.ring.pulsesAt(index);
    const usable = look.ring.isUsable(index);
    const bin = look.ring.binAt(index);
    const same = ms === live.msAt(index) && pulses === live.pulsesAt(index) && bin === live.binAt(index);
    if (same && usable === live.isUsable(index)) continue;
    changed = true;
    live.set(index, pulses, ms, ms > 0 && !usable, bin);
  }
  return changed;
}
