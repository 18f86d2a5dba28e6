/**
 * The agenda: what a tick sets off. Sweeps that are due, looks at the past, transients that ended, alarms on plain
 * conditions. Progress comes from recorded ticks only, so no device's clock makes another one late.
 */
import { alarmOf, transition } from './alarm.js';
import { endShelves } from './alarm-acts.js';
import { tickAlarms } from './announcing.js';
import { tickWatches } from './deviation/watch.js';
import { sayAge } from './figures.js';
import { skipDowntime } from './downtime.js';
import { issueTransients } from './episode.js';
import type { ConditionAlarmPlan } from './plan.js';
import type { AlarmRecord, Evidence } from './alarm-rows.js';
import { regate } from './regate.js';
import { findStretch } from './run-state.js';
import type { Condition } from './plain-condition.js';
import { floorTo, nextDueAt, type CoreState } from './state.js';
import { judgeSuppression } from './suppression.js';
import { sweepSensor } from './sweep.js';
import { watchBursts } from './zone-burst.js';

/** Looks at the past begun per tick: the rest waits, so that live readings never do. */
const LOOKS_PER_TICK = 16;
const CONDITIONS_EVERY_MS = 10_000;
const TRANSIENTS_EVERY_MS = 5000;
const ZONE_MEMORY_MS = 2 * 3_600_000;

/** Whether anything still waits for ticks: increments to be classified, looks at the past, transients to be issued. */
export function hasWork(state: CoreState): boolean {
  if (state.unread.size > 0 || state.motorList.some((motor) => motor.transientDirty !== null)) return true;
  return state.sensorList.some((sensor) => sensor.pending.length > 0 || sensor.dirty !== null);
}

export function tick(state: CoreState, now: number): void {
  if (now <= state.now) return;
  const before = state.now;
  state.now = now;
  if (state.isResuming) skipDowntime(state, before);
  state.isResuming = false;
  endShelves(state);
  judgeSuppression(state);
  visitSensors(state, now);
  if (floorTo(now, TRANSIENTS_EVERY_MS) > floorTo(before, TRANSIENTS_EVERY_MS)) {
    const { mayIssue, motorList } = state;
    for (let i = 0; i < mayIssue.length; i++) if (mayIssue[i] !== 0) issueTransients(state, motorList[i]!);
  }
  tickWatches(state);
  if (floorTo(now, CONDITIONS_EVERY_MS) > floorTo(before, CONDITIONS_EVERY_MS)) {
    for (const condition of state.conditions) watchCondition(state, condition);
    watchBursts(state);
    tickAlarms(state);
    for (const zone of state.zones.values()) {
      if (zone.bursts.length > 0 && zone.bursts[0]!.to < now - 2 * ZONE_MEMORY_MS) {
        zone.bursts = zone.bursts.filter((burst) => burst.to > now - ZONE_MEMORY_MS);
      }
      if (zone.votes.length > 0 && zone.votes[0]!.to < now - 2 * ZONE_MEMORY_MS) {
        zone.votes = zone.votes.filter((vote) => vote.to > now - ZONE_MEMORY_MS);
      }
    }
  }
}

/** Most ticks concern few sensors: their times stand side by side, so that the others cost next to nothing. */
function visitSensors(state: CoreState, now: number): void {
  const { sensorList, dueAt } = state;
  let looks = 0;
  for (let i = 0; i < dueAt.length; i++) {
    if (now < dueAt[i]!) continue;
    const sensor = sensorList[i]!;
    if (now >= sensor.nextSweepAt) sweepSensor(state, sensor);
    if (sensor.dirty !== null && now >= sensor.dirty.dueAt && looks < LOOKS_PER_TICK) {
      regate(state, sensor);
      looks += 1;
    }
    dueAt[i] = nextDueAt(sensor);
  }
}

/** Whether something was seen lately enough to count as still going on. */
function isRecent(state: CoreState, { plan, sensor }: Condition, at: number): boolean {
  return at > 0 && state.now - at < 10 * sensor!.plan.intervalMs + plan.offDelayMs;
}

/** Whether a plain condition holds at the state's time. */
function holds(state: CoreState, condition: Condition): boolean {
  const { plan, motor, sensor } = condition;
  if (plan.kind === 'run-state-lost') {
    const { stretches } = motor.timeline;
    return motor.plan.hasRunState && stretches[findStretch(stretches, state.now)]!.state === 'unknown';
  }
  if (sensor === null) return false;
  switch (plan.kind) {
    case 'no-readings':
      return state.now - sensor.lastReceivedAt - sensor.downtimeMs > 3.15 * sensor.plan.intervalMs;
    case 'counter-unknown':
      return isRecent(state, condition, sensor.unknownAt);
    case 'rejecting':
      return isRecent(state, condition, sensor.rejectedAt);
    case 'saturated':
      return isRecent(state, condition, sensor.saturatedAt);
    case 'clock-off':
      return sensor.clock.off;
  }
}

const SENTENCES: Readonly<Record<ConditionAlarmPlan['kind'], [raised: string, returned: string]>> = {
  'no-readings': ['sends no readings', 'sends readings again'],
  'run-state-lost': [
    'nobody reports the run state of the drive',
    'the run state of the drive is reported again',
  ],
  'counter-unknown': [
    'its counter fell or restarted: pulses in between are unknowable',
    'its counter goes on',
  ],
  rejecting: ['its counts rise faster than is plausible', 'its counts are plausible again'],
  saturated: ['counts so fast that its dead time hides more than half', 'counts below saturation again'],
  'clock-off': [
    'the clock of the device differs from that of the gateway',
    'the clock of the device agrees again',
  ],
};

function conditionEvidence(state: CoreState, plan: ConditionAlarmPlan, raised: boolean): Evidence {
  const sensor = plan.sensor === null ? undefined : state.sensors.get(plan.sensor);
  const silentS =
    sensor === undefined || sensor.lastReceivedAt === 0
      ? null
      : Math.round((state.now - sensor.lastReceivedAt) / 1000);
  const last = silentS === null ? '' : `; the last one came ${sayAge(silentS)} ago`;
  return {
    from: state.now - (raised ? plan.onDelayMs : plan.offDelayMs),
    to: state.now,
    pulses: 0,
    exposureMs: 0,
    ratePerMin: null,
    lowerPerMin: null,
    upperPerMin: null,
    dispersion: null,
    confidence: null,
    setpointPerMin: null,
    deadbandPerMin: null,
    onDelayMs: plan.onDelayMs,
    offDelayMs: plan.offDelayMs,
    strip: [],
    configuration: state.plan.revision,
    says: `${plan.sensor ?? plan.motor}: ${SENTENCES[plan.kind][raised ? 0 : 1]}${plan.kind === 'no-readings' && raised ? last : ''}`,
  };
}

/** Delays of these alarms run in time. The timers hold the tick at which the condition last changed. */
function watchCondition(state: CoreState, condition: Condition): void {
  const { plan } = condition;
  const found = holds(state, condition);
  if (!found && condition.record === null) return;
  const record = (condition.record ??= alarmOf(state, plan));
  const settled = found === record.active;
  if (settled) {
    if (record.onMs !== 0) setTimer(state, record, 0);
    return;
  }
  if (record.onMs === 0) setTimer(state, record, state.now);
  if (state.now - record.onMs < (found ? plan.onDelayMs : plan.offDelayMs)) return;
  record.onMs = 0;
  const evidence = conditionEvidence(state, plan, found);
  if (found) transition(state, record, { kind: 'raise', at: state.now, evidence, latching: plan.latching });
  else transition(state, record, { kind: 'return', at: state.now, evidence });
}

function setTimer(state: CoreState, record: AlarmRecord, at: number): void {
  record.onMs = at;
  state.out.alarms.push(record);
}
