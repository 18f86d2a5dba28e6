/**
 * Run state as a function of event time: drive messages and the presence of their reporter, in order of time, become
 * stretches of one state with known or uncertain edges. What nobody asserted is `unknown`, never `stopped`.
 * Source: our choice throughout; the message fields are those of the contract.
 */
import type { RunState } from './facts.js';
import type { GatePlan, MotorPlan } from './plan.js';
import type { DriveRow, PresenceRow } from './rows.js';
import { findGuards, type Guard } from './transient.js';
import type { Verdict } from './words.js';

/** Drive messages in memory reach back at least this far, and so does the timeline made of them. */
export const DRIVES_KEPT_MS = 3_600_000;

export interface Stretch {
  from: number;
  to: number;
  state: RunState | 'unknown';
  modulating: boolean;
}

/** A change of state or of modulation, somewhere in [lo, hi]. */
export interface Edge {
  lo: number;
  hi: number;
  before: Stretch;
  after: Stretch;
}

export interface Timeline {
  stretches: Stretch[];
  edges: Edge[];
  guards: Guard[];
  /** when its modulation began or ended: what a coupled sensor hears */
  switchings: { lo: number; hi: number }[];
  /** changes of state and steps in speed, ascending: they silence a vote on common bursts */
  changes: number[];
  /** where the last plain increment lay, remembered by the gate; null: none yet */
  steady: Steady | null;
}

/** [from, to) lies in one stretch and away from all guards, so what lies in it needs no other look. */
export interface Steady {
  readonly from: number;
  readonly to: number;
  readonly verdict: Verdict;
}

const FOREVER = Number.MAX_SAFE_INTEGER;

/** Index of the stretch that holds `time`; stretches cover all time without gaps. */
export function findStretch(stretches: readonly Stretch[], time: number): number {
  let low = 0;
  let high = stretches.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (stretches[middle]!.from <= time) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** The time until which a message holds by itself: a missed heartbeat × 3, or its reporter gone. */
function heldUntil(plan: MotorPlan, row: DriveRow, absentAt: number): number {
  const heartbeatEnd = plan.heartbeatMs === null ? FOREVER : row.at + 3 * plan.heartbeatMs;
  return Math.min(heartbeatEnd, absentAt);
}

/** First time at or after `at` and before `until` at which the reporter went absent; FOREVER: it did not. */
function findAbsence(presences: readonly PresenceRow[], at: number, until: number): number {
  for (const presence of presences) {
    if (presence.at < at) continue;
    if (presence.at >= until) break;
    if (!presence.online) return presence.at;
  }
  return FOREVER;
}

interface Builder {
  stretches: Stretch[];
  edges: Edge[];
  changes: number[];
}

function openStretch(
  builder: Builder,
  from: number,
  state: RunState | 'unknown',
  modulating: boolean,
): Stretch {
  const last = builder.stretches[builder.stretches.length - 1]!;
  const start = Math.max(from, last.from);
  last.to = start;
  if (start === last.from && builder.stretches.length > 1) builder.stretches.pop();
  const stretch = { from: start, to: FOREVER, state, modulating };
  builder.stretches.push(stretch);
  return stretch;
}

/** No edge between `fault` and `stopped` while the modulation is the same. */
function isEdge(before: DriveRow, after: DriveRow): boolean {
  if (before.modulating !== after.modulating) return true;
  if (before.state === after.state) return false;
  const standing = (state: RunState): boolean => state === 'stopped' || state === 'fault';
  return !(standing(before.state) && standing(after.state));
}

/**
 * When the state was entered, as the message says; null: it does not say. A time before an observation that said
 * otherwise is none: two observations outweigh it. What the two clocks may differ by is let pass.
 */
function entryOf(plan: MotorPlan, gate: GatePlan, previous: DriveRow, row: DriveRow): number | null {
  const { since } = row;
  if (since === null || since > row.at) return null;
  const contradicted =
    row.state !== previous.state && since < previous.at - gate.settleMs - plan.clockErrorMs;
  return contradicted ? null : since;
}

/**
 * The last time at which the drive is known to have been as before. Who reports on change and is silent for long says by
 * that that nothing changed; messages that follow one another as a poll does say nothing of the time between.
 */
function observedUntil(plan: MotorPlan, gate: GatePlan, previous: DriveRow, row: DriveRow): number {
  if (plan.heartbeatMs !== null || row.at - previous.at <= gate.settleWaitMs) return previous.at;
  return row.at - gate.settleMs;
}

function addMessage(
  builder: Builder,
  plan: MotorPlan,
  gate: GatePlan,
  previous: DriveRow,
  row: DriveRow,
  absentAt: number,
): void {
  const known = Math.min(heldUntil(plan, previous, absentAt), row.at);
  const sameState = previous.state === row.state;
  const same = sameState && previous.modulating === row.modulating;
  const since = entryOf(plan, gate, previous, row);
  const reentered = sameState && since !== null && since > previous.at && since !== previous.since;
  if (same && !reentered) {
    if (since === null && known < row.at) breakOff(builder, known, row.at, row);
    return;
  }
  const start = sameState && !reentered ? null : since;
  if (start !== null ? known < start : known < row.at) {
    breakOff(builder, known, start ?? row.at, row);
    return;
  }
  const before = builder.stretches[builder.stretches.length - 1]!;
  if (reentered && same) openStretch(builder, previous.at + 1, 'unknown', false);
  const lo = start ?? Math.min(observedUntil(plan, gate, previous, row), row.at);
  const hi = start === null ? row.at : Math.max(start, Math.min(previous.at, row.at));
  const after = openStretch(builder, hi, row.state, row.modulating);
  builder.changes.push(hi);
  if (isEdge(previous, row) || reentered) builder.edges.push({ lo, hi, before, after });
}

/** Nobody knows what the drive did from `known` to `start`; the state after that is no edge. */
function breakOff(builder: Builder, known: number, start: number, row: DriveRow): void {
  openStretch(builder, known, 'unknown', false);
  openStretch(builder, Math.max(start, known), row.state, row.modulating);
  builder.changes.push(Math.max(start, known));
}

function stepsInSpeed(rows: readonly DriveRow[], share: number): number[] {
  const steps: number[] = [];
  let speed: number | null = null;
  for (const row of rows) {
    if (row.speedRpm === null) continue;
    if (
      speed !== null &&
      Math.abs(row.speedRpm - speed) > share * Math.max(Math.abs(speed), Math.abs(row.speedRpm))
    )
      steps.push(row.at);
    speed = row.speedRpm;
  }
  return steps;
}

/**
 * The run state over all time, from messages and presences in ascending order of `at`. Before the first message:
 * unknown. After the last: as it says, for as long as it holds. A motor without a run-state signal runs throughout.
 */
export function buildTimeline(
  plan: MotorPlan,
  gate: GatePlan,
  speedStep: number,
  rows: readonly DriveRow[],
  presences: readonly PresenceRow[],
): Timeline {
  const builder: Builder = {
    stretches: [
      {
        from: -FOREVER,
        to: FOREVER,
        state: plan.hasRunState ? 'unknown' : 'running',
        modulating: !plan.hasRunState,
      },
    ],
    edges: [],
    changes: [],
  };
  if (!plan.hasRunState) return { ...builder, guards: [], switchings: [], steady: null };
  for (let i = 0; i < rows.length; i++) {
    const row = rows[i]!;
    const previous = i === 0 ? null : rows[i - 1]!;
    if (previous === null) {
      const start = row.since !== null && row.since <= row.at ? row.since : row.at;
      openStretch(builder, start, row.state, row.modulating);
      builder.changes.push(start);
    } else {
      addMessage(builder, plan, gate, previous, row, findAbsence(presences, previous.at, row.at));
    }
  }
  const last = rows[rows.length - 1];
  if (last !== undefined) {
    const end = heldUntil(plan, last, findAbsence(presences, last.at, FOREVER));
    if (end < FOREVER) openStretch(builder, end, 'unknown', false);
  }
  const guards = findGuards(plan, gate, builder.edges);
  const switchings = builder.edges
    .filter((e) => e.before.modulating !== e.after.modulating)
    .map((e) => ({ lo: e.lo, hi: e.hi }));
  const changes = [...builder.changes, ...stepsInSpeed(rows, speedStep)].sort((a, b) => a - b);
  return { ...builder, guards, switchings, changes, steady: null };
}

/**
 * Takes up a newest message that only says again what the one before it said: nothing but the end of what is known moves.
 * False: it says more, and the timeline must be built anew.
 */
export function extendTimeline(
  plan: MotorPlan,
  timeline: Timeline,
  previous: DriveRow,
  row: DriveRow,
  presences: readonly PresenceRow[],
): boolean {
  const same = previous.state === row.state && previous.modulating === row.modulating;
  const steady = previous.speedRpm === row.speedRpm && (row.since === null || row.since === previous.since);
  if (!same || !steady || findAbsence(presences, previous.at, FOREVER) < FOREVER) return false;
  if (plan.heartbeatMs === null) return true;
  const { stretches } = timeline;
  const unknown = stretches[stretches.length - 1]!;
  const known = stretches[stretches.length - 2];
  if (known === undefined || unknown.state !== 'unknown' || unknown.from < row.at) return false;
  known.to = heldUntil(plan, row, FOREVER);
  unknown.from = known.to;
  return true;
}

/** The time up to which the run state will not be added to by an ordinary message. */
export function settledUntil(
  plan: MotorPlan,
  gate: GatePlan,
  rows: readonly DriveRow[],
  now: number,
): number {
  if (!plan.hasRunState) return FOREVER;
  const last = rows[rows.length - 1];
  if (plan.heartbeatMs === null || last === undefined) return now - gate.settleMs;
  return last.at + 3 * plan.heartbeatMs < now - gate.settleMs ? now - gate.settleMs : last.at;
}
