/**
 * The state of the core between two steps. Owned and changed in place by `step`; a step that fails
 * leaves it unusable, and the shell opens it anew from the store.
 */
import type { Alarming } from './alarming.js';
import type { GroupState } from './bin-group.js';
import type { CheckSpan } from './check-span.js';
import type { ClockWatch } from './clock-watch.js';
import type { MotorKey, ReadingFact, SensorKey } from './facts.js';
import type { MaintenanceState } from './maintenance.js';
import type { Answer, Need } from './needs.js';
import type { SensorWatch } from './deviation/watch-state.js';
import type { DeviationAlarmPlan, MotorPlan, Plan, RateAlarmPlan, SensorPlan } from './plan.js';
import type { AlarmRecord } from './alarm-rows.js';
import type {
  Burst,
  DriveRow,
  Increment,
  Outputs,
  PresenceRow,
  Segment,
  Spread,
  Vote,
  WindowIssued,
} from './rows.js';
import type { Condition } from './plain-condition.js';
import type { Timeline } from './run-state.js';
import type { BinDispersion } from './spread.js';
import type { WindowRing } from './ring.js';
import type { Minute, OpenPeriod } from './periods.js';
import type { ClosedPart } from './rate.js';

/** A run of consecutive readings of one chain, in chain order. */
export interface Run {
  rows: Increment[];
  /** rows[0] is the first reading of the chain */
  startsChain: boolean;
  /** the last row is the newest reading of the chain */
  endsChain: boolean;
}

export interface ChainState extends Run {
  id: number;
  device: string;
  boot: number | null;
  /** ordered by `seq`, else by time */
  bySeq: boolean;
  /** in order of their start; all of the chain that lie inside the horizon */
  segments: Segment[];
  /** for readings without `at`: what to add to `up_ms` */
  upAnchor: number | null;
  waiting: ReadingFact[];
}

export interface Dirty {
  from: number;
  to: number;
  /** tick after which it is worked off */
  dueAt: number;
}

export interface SensorState {
  key: SensorKey;
  index: number;
  plan: SensorPlan;
  motor: MotorState;
  zone: ZoneState;
  chains: ChainState[];
  /** the chain of the newest reading */
  current: ChainState | null;
  /** not classified yet, ordered by `to` */
  pending: Increment[];
  /** base windows before this are classified; multiple of 10 s */
  sweptTo: number;
  /** rows at and after this were left unsettled after the longest wait */
  unsettledFrom: number | null;
  ring: WindowRing;
  minute: OpenPeriod;
  tenMinutes: OpenPeriod;
  hour: OpenPeriod;
  /** closed ones with running exposure, in order */
  minutes: Minute[];
  /** so many of them, the newest, are looked at and kept over a restart */
  minutesKept: number;
  /** closed part of the trailing minutes as told last; null: the minutes have changed since */
  closed: ClosedPart | null;
  /** start of the newest minute that its rate alarms have seen */
  evaluatedTo: number;
  /** start of the oldest minute before that which late readings filled since; null: none */
  refilledFrom: number | null;
  /** start of the newest base window that was told as a rate */
  toldTo: number;
  /** milliseconds by class of the day (UTC) so far, closed hours only */
  day: { start: number; ms: number[] };
  spreads: Spread[];
  dispersion: number;
  dispersionUncertain: boolean;
  /** condition bin it ran in last, and temperature (tenths of a degree) it had there; '' and null without bins */
  bin: string;
  temperature: number | null;
  /** dispersion of each bin; empty without bins */
  binDispersions: Map<string, BinDispersion>;
  vote: Vote | null;
  /** no window ends its wait before this tick */
  nextSweepAt: number;
  sweepDelayMs: number;
  /** motors whose drives it is declared to hear */
  coupled: MotorState[];
  dirty: Dirty | null;
  /** function checks that people started, in order of their begin; the newest may still go on */
  checks: readonly CheckSpan[];
  clock: ClockWatch;
  lastReceivedAt: number;
  /** for how long the gateway stood since that reading arrived */
  downtimeMs: number;
  online: boolean | null;
  /** last base window that was issued and is not told as a rate yet */
  told: WindowIssued | null;
  /** times of arrival of what the sensor's condition alarms look at; 0: never */
  unknownAt: number;
  rejectedAt: number;
  saturatedAt: number;
  /** its baseline, and what its deviation alarms remember */
  watch: SensorWatch;
  /** key of its checkpoint */
  recordKey: string;
  /** its checkpoint is to be written at the end of the step, that of its hours and its device's clock, or that of its watch */
  changed: boolean;
  hoursChanged: boolean;
  watchChanged: boolean;
  /** rows given at start would not reach back to its open hour: its checkpoint, which holds the hour, is written each time */
  isLong: boolean;
}

export interface MotorState {
  key: MotorKey;
  index: number;
  plan: MotorPlan;
  /** its duty group, when that has condition bins */
  group: GroupState | null;
  sensors: SensorState[];
  /** sensors of other motors that hear this drive switch */
  hearers: SensorState[];
  drives: DriveRow[];
  presences: PresenceRow[];
  timeline: Timeline;
  /** the timeline is complete from here on; −Infinity: nothing was left out */
  knownFrom: number;
  /** its condition bins can be told from what is in memory from here on */
  binsFrom: number;
  /** guards older than this were issued or need no look */
  issuedTo: number;
  transientDirty: Dirty | null;
  /** increments that overlap a guard end at most this much after it */
  tailMs: number;
  sweepDelayMs: number;
  reachMs: number;
}

export interface ZoneState {
  key: string;
  motors: MotorState[];
  /** of the last hours, in order of arrival */
  bursts: Burst[];
  votes: Vote[];
  /** distance between a window and the newest window it is predicted from, in windows */
  gapWindows: number;
}

/** What is done when the shell answers a need. */
export type Continuation = (answer: Answer) => void;

export interface CoreState {
  plan: Plan;
  now: number;
  /** number of this step: a row is put out once a step */
  stepNo: number;
  nextNeed: number;
  nextChain: number;
  sensors: Map<SensorKey, SensorState>;
  /** the same by their index, to run through on every tick */
  sensorList: SensorState[];
  /** by index of the sensor: no tick before this concerns it; at or after it one may */
  dueAt: Float64Array;
  motors: Map<MotorKey, MotorState>;
  motorList: MotorState[];
  /** by index of the motor: 1 where transients may wait to be issued */
  mayIssue: Uint8Array;
  zones: Map<string, ZoneState>;
  /** duty groups with condition bins */
  groups: Map<string, GroupState>;
  alarms: Map<string, AlarmRecord>;
  /** no tick before these ends a shelf, or changes what the design suppresses */
  shelfEndsAt: number;
  suppressionAt: number;
  maintenance: MaintenanceState;
  conditions: Condition[];
  alarming: Alarming;
  /** rate alarms by sensor, from the plan */
  rateAlarms: Map<SensorKey, RateAlarmPlan[]>;
  /** deviation alarms by sensor, from the plan */
  deviationAlarms: Map<SensorKey, DeviationAlarmPlan[]>;
  /** sensors with closed hours that their watch has not read yet, in order */
  unread: Set<SensorState>;
  /** start of the newest day on which sisters were compared */
  peersDay: number;
  /** companies (duty group and position) that fall into two halves, as told last */
  torn: Set<string>;
  waiting: Map<number, Continuation>;
  /** chains with late readings that wait for their neighbours, of this step */
  lateChains: Map<ChainState, SensorState>;
  out: Outputs;
  /** sensors touched in this step */
  touched: Set<SensorState>;
  touchedMotors: Set<MotorState>;
  touchedGroups: Set<GroupState>;
  /** it was taken up from what the store kept, and no tick came since */
  isResuming: boolean;
}

/** A need with nothing asked for, to be filled in. */
export function askFor(state: CoreState, question: Partial<Omit<Need, 'id'>>, then: Continuation): void {
  const id = state.nextNeed++;
  state.waiting.set(id, then);
  state.out.needs.push({
    id,
    increments: null,
    neighbours: null,
    drives: null,
    zone: null,
    segments: null,
    transients: null,
    ...question,
  });
}

/** Marks base windows of a sensor for another look, soon, as far back as the past may be revised. `from`, `to` in ms. */
export function markDirty(state: CoreState, sensor: SensorState, from: number, to: number): void {
  markUnjudged(state, sensor, Math.max(from, state.now - state.plan.reviseHorizonMs), to);
}

/** The same, however far back: what holds rows without a class must be judged, or their pulses would be in none. */
export function markUnjudged(state: CoreState, sensor: SensorState, from: number, to: number): void {
  const start = Math.max(floorTo(from, 10_000), 0);
  const end = Math.min(floorTo(to - 1, 10_000) + 10_000, sensor.sweptTo);
  if (end <= start) return;
  const dirty = sensor.dirty;
  sensor.dirty =
    dirty === null
      ? { from: start, to: end, dueAt: state.now + sensor.plan.reorderWaitMs }
      : { from: Math.min(dirty.from, start), to: Math.max(dirty.to, end), dueAt: dirty.dueAt };
  state.dueAt[sensor.index] = nextDueAt(sensor);
  touch(state, sensor);
}

/** The next tick that concerns a sensor: to sweep its windows, or to look at its past again. */
export function nextDueAt({ nextSweepAt, dirty }: SensorState): number {
  return dirty === null ? nextSweepAt : Math.min(nextSweepAt, dirty.dueAt);
}

/** What a restart cannot see from the rows has changed: the sensor's checkpoint is written at the end of the step. */
export function touch(state: CoreState, sensor: SensorState): void {
  sensor.changed = true;
  state.touched.add(sensor);
}

/** The same for its hours and its device's clock. */
export function touchHours(state: CoreState, sensor: SensorState): void {
  sensor.hoursChanged = true;
  state.touched.add(sensor);
}

export function floorTo(value: number, step: number): number {
  return Math.floor(value / step) * step;
}

export function ceilTo(value: number, step: number): number {
  return Math.ceil(value / step) * step;
}

/** Counts and tells something that a controls engineer should know. */
export function diagnose(state: CoreState, subject: string, kind: string, at: number, detail: string): void {
  state.out.diagnostics.push({ subject, kind, at, detail });
}

/** Puts a row out, once a step; what is written is its last form in the step. */
export function putRow(state: CoreState, row: Increment): void {
  if (row.putIn === state.stepNo) return;
  row.putIn = state.stepNo;
  state.out.increments.push(row);
}
