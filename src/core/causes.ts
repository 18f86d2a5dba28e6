/**
 * Causes that raise many alarms at once, as data: which kinds they raise, when they are taken as one, how long a member waits
 * for its like, and when the group is over. What groups them says where to look first; it is a hypothesis, and says so.
 * Source: first-out and grouping of ISA-18.2 as ideas; all figures are our choice.
 */
import type { AlarmRecord } from './alarm-rows.js';
import { AT_ONCE_MS, cutOffOfDrives, cutOffOfSensors, SLACK_MS, type Span } from './cut-off.js';
import { sendsNothing } from './hold.js';
import type { AlarmAdvice, Plan } from './plan.js';
import { findStretch, type Stretch } from './run-state.js';
import type { CoreState, MotorState, SensorState, ZoneState } from './state.js';

/** `met`: it is one cause; `possible`: it may turn out so shortly; `no`: it is not. */
export type Judgement = 'met' | 'possible' | 'no';

export interface Cause {
  /** of the group's alarm */
  readonly kind: 'zone-silent' | 'zone-drives-lost' | 'zone-deviation';
  readonly memberKinds: ReadonlySet<string>;
  /** how long a member waits for its like before it is told alone */
  readonly gatherMs: number;
  /** a member joins a group that stands if its condition began within so long of the group's; null: always */
  readonly joinMs: number | null;
  /** the group ends when it has not held for so long: devices come back one by one */
  readonly releaseMs: number;
  readonly advice: AlarmAdvice;
  /** what `record`, just raised, makes of its zone */
  judge(state: CoreState, zone: ZoneState, record: AlarmRecord): Judgement;
  /** whether a group that was raised still stands for its members */
  holds(state: CoreState, zone: ZoneState, members: readonly AlarmRecord[]): boolean;
  /** when what it took away was cut off: another group of the zone that was cut off then has the same cause; null: it cuts off nothing */
  cutOff: ((state: CoreState, zone: ZoneState, members: readonly AlarmRecord[]) => Span | null) | null;
  /** the group in one sentence; `members`: what is raised so far */
  say(state: CoreState, zone: ZoneState, members: readonly AlarmRecord[]): string;
}

const SENSORS_MIN = 3;
const MOTORS_MIN = 2;
const DEVIATING_MOTORS_MIN = 3;
const TEN_MINUTES_MS = 600_000;
const NAMED_MAX = 12;

const LOOK_FIRST =
  'Look first at what they have in common: network switch, power feed, fuse. Cabinets are opened by a competent person only.';

function name(keys: readonly string[]): string {
  const named = keys.slice(0, NAMED_MAX).join(', ');
  return keys.length > NAMED_MAX ? `${named} and ${keys.length - NAMED_MAX} more` : named;
}

function motorsOf(members: readonly { readonly motor: string }[]): number {
  return new Set(members.map(({ motor }) => motor)).size;
}

/** Sensors that a silence of the zone must take in: those that ever sent anything; where none did, all. */
function askedIn(zone: ZoneState): SensorState[] {
  const all = zone.motors.flatMap((motor) => motor.sensors);
  const known = all.filter((sensor) => sensor.current !== null);
  return known.length > 0 ? known : all;
}

function silentIn(state: CoreState, zone: ZoneState): SensorState[] {
  return askedIn(zone).filter((sensor) => sendsNothing(state, sensor));
}

/**
 * The whole zone is silent when none of its sensors was heard after the last moment at which those that are overdue can have
 * been cut off. A sensor with a long interval, whose next reading is not due yet, neither proves it nor speaks against it.
 */
function judgeSilence(state: CoreState, zone: ZoneState): Judgement {
  const asked = askedIn(zone);
  const silent = silentIn(state, zone);
  if (silent.length === 0) return 'no';
  const cutBy = Math.max(...silent.map(({ lastReceivedAt, plan }) => lastReceivedAt + plan.intervalMs));
  if (asked.some(({ lastReceivedAt }) => lastReceivedAt > cutBy + SLACK_MS)) return 'no';
  const isMany = (sensors: readonly SensorState[]): boolean =>
    sensors.length >= SENSORS_MIN && motorsOf(sensors.map(({ plan }) => plan)) >= MOTORS_MIN;
  if (isMany(silent)) return 'met';
  return isMany(asked) ? 'possible' : 'no';
}

function present(state: CoreState, motor: MotorState): Stretch {
  const { stretches } = motor.timeline;
  return stretches[findStretch(stretches, state.now)]!;
}

/** Since when nobody says what the drive does; null: somebody does, or nobody is asked. */
function lostSince(state: CoreState, motor: MotorState): number | null {
  const { state: runs, from } = present(state, motor);
  return motor.plan.hasRunState && runs === 'unknown' ? from : null;
}

/** Drives of the zone that were lost at once with that of `motor`, itself included. */
function lostWith(state: CoreState, zone: ZoneState, motor: string): MotorState[] {
  const own = state.motors.get(motor);
  const since = own === undefined ? null : lostSince(state, own);
  if (since === null) return [];
  return zone.motors.filter((other) => {
    const at = lostSince(state, other);
    return at !== null && Math.abs(at - since) <= AT_ONCE_MS;
  });
}

/** Another drive with a heartbeat may have spoken last before this one was cut off, and be given up a moment later. */
function mayFollow(state: CoreState, zone: ZoneState, motor: string): boolean {
  const last = state.motors.get(motor)?.drives.at(-1)?.receivedAt ?? 0;
  return zone.motors.some(({ key, plan, drives }) => {
    const heard = drives.at(-1)?.receivedAt ?? 0;
    return key !== motor && plan.heartbeatMs !== null && heard <= last + plan.heartbeatMs + SLACK_MS;
  });
}

const ZONE_SILENT: Cause = {
  kind: 'zone-silent',
  memberKinds: new Set(['no-readings']),
  gatherMs: 30_000,
  joinMs: null,
  releaseMs: 120_000,
  advice: {
    consequence:
      'Nobody sees what these bearings do; devices that lost their power lose what they had not sent.',
    action: LOOK_FIRST,
    rationale: 'All sensors of a zone fall silent together for one reason, not for many.',
    class: 'instrument',
    timeToRespondMs: 8 * 3_600_000,
  },
  judge: judgeSilence,
  holds: (state, zone) => judgeSilence(state, zone) !== 'no',
  cutOff: (state, zone) => cutOffOfSensors(silentIn(state, zone)),
  say(state, zone) {
    const keys = silentIn(state, zone).map(({ key }) => key);
    return `zone ${zone.key}: no sensor sends readings any more, ${keys.length} are overdue (${name(keys)}): one cause for all is likely, such as a switch or a power feed`;
  },
};

const ZONE_DRIVES_LOST: Cause = {
  kind: 'zone-drives-lost',
  memberKinds: new Set(['run-state-lost']),
  gatherMs: 30_000,
  joinMs: AT_ONCE_MS,
  releaseMs: 120_000,
  advice: {
    consequence: 'Pulses of these motors cannot be attributed; their rates and rate alarms stand still.',
    action: 'Look first at what reports these drives: one controller, its network, its login.',
    rationale: 'Reports of several drives that end at once have one reporter in common.',
    class: 'instrument',
    timeToRespondMs: 8 * 3_600_000,
  },
  judge(state, zone, { motor }) {
    if (lostWith(state, zone, motor).length >= MOTORS_MIN) return 'met';
    return mayFollow(state, zone, motor) ? 'possible' : 'no';
  },
  holds(state, _zone, members) {
    const lost = members.filter(({ motor }) => {
      const found = state.motors.get(motor);
      return found !== undefined && lostSince(state, found) !== null;
    });
    return lost.length >= MOTORS_MIN;
  },
  cutOff(state, zone, members) {
    const motors = members.flatMap(({ motor }) => lostWith(state, zone, motor));
    return cutOffOfDrives(
      [...new Set(motors)].map((motor) => ({ motor, since: lostSince(state, motor) ?? state.now })),
    );
  },
  say(state, zone, members) {
    const keys = lostWith(state, zone, members[0]!.motor).map(({ key }) => key);
    const drives = `zone ${zone.key}: nobody reports the run state of ${keys.length} drives since the same moment (${name(keys)})`;
    const isSilentToo = judgeSilence(state, zone) === 'met';
    return isSilentToo
      ? `${drives}, and no sensor of the zone sends readings: one cause for all is likely, such as a switch or a power feed`
      : `${drives}: they may have one reporter`;
  },
};

const DEVIATIONS: ReadonlySet<string> = new Set([
  'above-baseline',
  'above-peers',
  'rising',
  'background-high',
]);

const ZONE_DEVIATION: Cause = {
  kind: 'zone-deviation',
  memberKinds: DEVIATIONS,
  gatherMs: TEN_MINUTES_MS,
  joinMs: TEN_MINUTES_MS,
  releaseMs: 0,
  advice: {
    consequence: 'If one source is heard on all of them, their counts say nothing of their bearings.',
    action:
      'Find out what changed for all of them at that time: interference, supply, a drive setting, the process. Then look at each.',
    rationale: 'Bearings do not change together within minutes; what surrounds them does.',
    class: 'condition',
    timeToRespondMs: 7 * 86_400_000,
  },
  judge(state, zone, record) {
    if (motorsOf(raisedWith(state, zone, record)) >= DEVIATING_MOTORS_MIN) return 'met';
    const watched = zone.motors.filter(({ sensors }) =>
      sensors.some(({ key }) => (state.deviationAlarms.get(key) ?? []).length > 0),
    );
    return watched.length >= DEVIATING_MOTORS_MIN ? 'possible' : 'no';
  },
  holds: (_state, _zone, members) => members.some(({ active }) => active),
  cutOff: null,
  say(_state, zone, members) {
    const said = members.map(({ sensor, kind }) => `${sensor} ${kind}`);
    return `zone ${zone.key}: ${motorsOf(members)} motors deviate from their yardsticks within 10 min (${name(said)}): look for one cause outside the bearings first`;
  },
};

/** Deviation alarms of the zone that stand and began within ten minutes of `record`, itself included. */
function raisedWith(state: CoreState, zone: ZoneState, record: AlarmRecord): AlarmRecord[] {
  const motors = new Set(zone.motors.map(({ key }) => key));
  return [...state.alarms.values()].filter(
    (other) =>
      DEVIATIONS.has(other.kind) &&
      other.active &&
      motors.has(other.motor) &&
      Math.abs((other.since ?? 0) - (record.since ?? 0)) <= TEN_MINUTES_MS,
  );
}

export const CAUSES: readonly Cause[] = [ZONE_SILENT, ZONE_DRIVES_LOST, ZONE_DEVIATION];

/** What a group's alarm asks for; null: no group has this name. `id`: `zone-<zone>.<kind>`. */
export function adviseGroup(plan: Plan, id: string): AlarmAdvice | null {
  const cause = CAUSES.find(({ kind }) => id.startsWith('zone-') && id.endsWith(`.${kind}`));
  if (cause === undefined) return null;
  const { advice, kind } = cause;
  const own = plan.groupAlarms[kind] ?? {};
  return {
    consequence: own.consequence ?? advice.consequence,
    action: own.action ?? advice.action,
    rationale: own.rationale ?? advice.rationale,
    class: own.class ?? advice.class,
    timeToRespondMs: own.timeToRespondMs === undefined ? advice.timeToRespondMs : own.timeToRespondMs,
  };
}

/** How long a member of the group waits for its like. */
export function gatherMsOf(plan: Plan, { kind, gatherMs }: Cause): number {
  return plan.groupAlarms[kind]?.gatherMs ?? gatherMs;
}
