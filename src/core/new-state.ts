/**
 * A state with nothing seen yet, laid out from the plan: motors, sensors, zones, and who hears whom.
 */
import { newAlarming } from './alarming.js';
import { newGroup, type GroupState } from './bin-group.js';
import { rebuildTimeline } from './drive.js';
import { openMaintenance } from './maintenance.js';
import { findLongKept, MINUTES_KEPT } from './kept-minutes.js';
import type { MotorPlan, Plan, SensorPlan } from './plan.js';
import { WINDOW_MS, WindowRing } from './ring.js';
import { newWatch } from './deviation/watch-state.js';
import { emptyOutputs } from './outputs.js';
import { reachBackMs, settleDelayMs } from './settle-delay.js';
import type { CoreState, MotorState, SensorState, ZoneState } from './state.js';
import { emptySums } from './window.js';

function newMotor(plan: Plan, motor: MotorPlan, index: number, group: GroupState | null): MotorState {
  const { gate } = plan;
  return {
    key: motor.key,
    index,
    plan: motor,
    group,
    sensors: [],
    hearers: [],
    drives: [],
    presences: [],
    timeline: { stretches: [], edges: [], guards: [], switchings: [], changes: [], steady: null },
    knownFrom: -Number.MAX_SAFE_INTEGER,
    binsFrom: -Number.MAX_SAFE_INTEGER,
    issuedTo: -Number.MAX_SAFE_INTEGER,
    transientDirty: null,
    tailMs: 0,
    sweepDelayMs: settleDelayMs(gate, motor),
    reachMs: reachBackMs(gate, motor),
  };
}

function newSensor(plan: SensorPlan, motor: MotorState, index: number, zone: ZoneState): SensorState {
  return {
    key: plan.key,
    index,
    plan,
    motor,
    zone,
    chains: [],
    current: null,
    pending: [],
    sweptTo: 0,
    unsettledFrom: null,
    ring: new WindowRing(zone.gapWindows),
    minute: { start: 0, sums: emptySums(), bins: [] },
    tenMinutes: { start: 0, sums: emptySums(), bins: [] },
    hour: { start: 0, sums: emptySums(), bins: [] },
    minutes: [],
    minutesKept: MINUTES_KEPT,
    closed: null,
    evaluatedTo: 0,
    refilledFrom: null,
    toldTo: 0,
    day: { start: 0, ms: [0, 0, 0, 0, 0, 0, 0, 0, 0] },
    spreads: [],
    dispersion: 1,
    dispersionUncertain: true,
    bin: '',
    temperature: null,
    binDispersions: new Map(),
    vote: null,
    nextSweepAt: 0,
    sweepDelayMs: Math.max(motor.sweepDelayMs, plan.reorderWaitMs),
    coupled: [],
    dirty: null,
    checks: [],
    clock: { lastAt: 0, count: 0, least: 0, most: 0, inOrder: 0, off: false },
    lastReceivedAt: 0,
    downtimeMs: 0,
    online: null,
    told: null,
    unknownAt: 0,
    rejectedAt: 0,
    saturatedAt: 0,
    watch: newWatch(0),
    recordKey: `sensor:${plan.key}`,
    changed: false,
    hoursChanged: false,
    watchChanged: false,
    isLong: false,
  };
}

function gapOf(plan: Plan, zone: string): number {
  let longest = 10_000;
  for (const sensor of plan.sensors.values()) {
    if (plan.motors.get(sensor.motor)?.zone === zone) longest = Math.max(longest, sensor.intervalMs);
  }
  return Math.ceil((plan.gate.maxIntervalFactor * longest) / WINDOW_MS) + 1;
}

function zoneOf(plan: Plan, zones: Map<string, ZoneState>, key: string): ZoneState {
  let zone = zones.get(key);
  if (zone === undefined) {
    zone = { key, motors: [], bursts: [], votes: [], gapWindows: gapOf(plan, key) };
    zones.set(key, zone);
  }
  return zone;
}

function alarmsBySensor<T extends { readonly sensor: string }>(alarms: readonly T[]): Map<string, T[]> {
  const found = new Map<string, T[]>();
  for (const alarm of alarms) found.set(alarm.sensor, [...(found.get(alarm.sensor) ?? []), alarm]);
  return found;
}

/** A state with nothing seen yet. */
export function newState(plan: Plan): CoreState {
  const motors = new Map<string, MotorState>();
  const zones = new Map<string, ZoneState>();
  const groups = new Map([...plan.dutyGroups.values()].map((group) => [group.key, newGroup(group)]));
  for (const motor of plan.motors.values()) {
    const made = newMotor(plan, motor, motors.size, groups.get(motor.dutyGroup) ?? null);
    motors.set(motor.key, made);
    zoneOf(plan, zones, motor.zone).motors.push(made);
  }
  const sensors = new Map<string, SensorState>();
  const longKept = findLongKept(plan);
  for (const sensor of plan.sensors.values()) {
    const motor = motors.get(sensor.motor)!;
    const made = newSensor(sensor, motor, sensors.size, zoneOf(plan, zones, motor.plan.zone));
    made.minutesKept = longKept.get(sensor.key) ?? MINUTES_KEPT;
    sensors.set(sensor.key, made);
    motor.sensors.push(made);
    motor.tailMs = Math.max(motor.tailMs, plan.gate.maxIntervalFactor * sensor.intervalMs);
    for (const key of sensor.coupledMotors) {
      const other = motors.get(key)!;
      other.hearers.push(made);
      other.tailMs = Math.max(other.tailMs, plan.gate.maxIntervalFactor * sensor.intervalMs);
      made.coupled.push(other);
    }
  }
  const rateAlarms = alarmsBySensor(plan.rateAlarms);
  const state: CoreState = {
    plan,
    now: 0,
    stepNo: 0,
    nextNeed: 1,
    nextChain: 1,
    sensors,
    sensorList: [...sensors.values()],
    dueAt: new Float64Array(sensors.size),
    motors,
    motorList: [...motors.values()],
    mayIssue: new Uint8Array(motors.size).fill(1),
    zones,
    groups,
    alarms: new Map(),
    shelfEndsAt: 0,
    suppressionAt: 0,
    maintenance: openMaintenance([], []),
    rateAlarms,
    deviationAlarms: alarmsBySensor(plan.deviationAlarms),
    unread: new Set(),
    peersDay: 0,
    torn: new Set(),
    conditions: plan.conditionAlarms.map((alarm) => ({
      plan: alarm,
      motor: motors.get(alarm.motor)!,
      sensor: alarm.sensor === null ? null : sensors.get(alarm.sensor)!,
      record: null,
    })),
    alarming: newAlarming(),
    waiting: new Map(),
    lateChains: new Map(),
    out: emptyOutputs(),
    touched: new Set(),
    touchedMotors: new Set(),
    touchedGroups: new Set(),
    isResuming: false,
  };
  for (const motor of motors.values()) motor.timeline = rebuildTimeline(state, motor);
  return state;
}

/** Begins a step: nothing put out yet. */
export function emptyStep(state: CoreState): void {
  state.out = emptyOutputs();
  state.touched.clear();
  state.touchedMotors.clear();
  state.touchedGroups.clear();
  state.stepNo += 1;
}
