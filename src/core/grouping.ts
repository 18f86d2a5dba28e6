/**
 * Groups: one alarm for a cause that raises many. The group's alarm is a record of its own and is told; its members stay in
 * the list with its id, and are told only if they outlast it.
 */
import { alarmOf, transition } from './alarm.js';
import type { AlarmRecord, Evidence } from './alarm-rows.js';
import { CAUSES, type Cause, type Judgement } from './causes.js';
import { isAtOnce } from './cut-off.js';
import { findPlanned } from './planned-alarm.js';
import type { CoreState, ZoneState } from './state.js';

const PRIORITIES = ['low', 'medium', 'high'] as const;

export function causeOf(record: AlarmRecord): Cause | null {
  return CAUSES.find(({ memberKinds }) => memberKinds.has(record.kind)) ?? null;
}

export function zoneOf(state: CoreState, record: AlarmRecord): ZoneState | null {
  const motor = state.motors.get(record.motor);
  return motor === undefined ? null : (state.zones.get(motor.plan.zone) ?? null);
}

function groupId(zone: ZoneState, cause: Cause): string {
  return `zone-${zone.key}.${cause.kind}`;
}

/** Whether the one began so near the other that the cause takes them for one. */
function isNear(cause: Cause, record: AlarmRecord, other: AlarmRecord): boolean {
  return cause.joinMs === null || Math.abs((record.since ?? 0) - (other.since ?? 0)) <= cause.joinMs;
}

/** Alarms of the zone that the cause may have raised together with `record`, itself included. */
function likesOf(state: CoreState, zone: ZoneState, cause: Cause, record: AlarmRecord): AlarmRecord[] {
  const motors = new Set(zone.motors.map(({ key }) => key));
  return [...state.alarms.values()].filter(
    (other) =>
      other.active &&
      cause.memberKinds.has(other.kind) &&
      motors.has(other.motor) &&
      isNear(cause, other, record),
  );
}

function isGroup({ kind }: AlarmRecord): boolean {
  return CAUSES.some((cause) => cause.kind === kind);
}

export function membersOf(state: CoreState, group: AlarmRecord): AlarmRecord[] {
  return [...state.alarms.values()].filter(({ groupedUnder }) => groupedUnder === group.id);
}

/**
 * Whether `record`, just raised and not told yet, is one of a group; raises the group when it makes one. `met`: it is, and
 * need not be told itself.
 */
export function joinGroup(state: CoreState, record: AlarmRecord): Judgement {
  const cause = causeOf(record);
  const zone = zoneOf(state, record);
  if (cause === null || zone === null) return 'no';
  const standing = state.alarms.get(groupId(zone, cause));
  if (standing?.active === true) {
    if (!isNear(cause, record, standing)) return 'no';
    putUnder(state, standing, record);
    return 'met';
  }
  const judged = cause.judge(state, zone, record);
  if (judged !== 'met') return judged;
  const members = likesOf(state, zone, cause, record);
  const group = raiseGroup(state, zone, cause, members);
  for (const member of members) putUnder(state, group, member);
  return 'met';
}

function raiseGroup(
  state: CoreState,
  zone: ZoneState,
  cause: Cause,
  members: readonly AlarmRecord[],
): AlarmRecord {
  const id = groupId(zone, cause);
  const head = { id, motor: `zone-${zone.key}`, alarm: cause.kind, sensor: null, kind: cause.kind };
  const most = Math.max(...members.map(({ priority }) => PRIORITIES.indexOf(priority)));
  const group = alarmOf(state, { ...head, priority: 'low' });
  group.priority = state.plan.groupAlarms[cause.kind]?.priority ?? PRIORITIES[most]!;
  group.onMs = 0;
  const from = Math.min(...members.map(({ since }) => since ?? state.now));
  const evidence = plainEvidence(state, from, cause.say(state, zone, members));
  const first = firstOf(state, zone, cause, members);
  // a raise that another alarm stands for is told to nobody
  if (first !== null) group.groupedUnder = first.id;
  transition(state, group, { kind: 'raise', at: state.now, evidence, latching: false });
  group.groupedUnder = null;
  if (first !== null) putUnder(state, first, group);
  return group;
}

/** The group of the zone that stands already and was cut off at the same time: it has told of the cause. Null: there is none. */
function firstOf(
  state: CoreState,
  zone: ZoneState,
  cause: Cause,
  members: readonly AlarmRecord[],
): AlarmRecord | null {
  const own = cause.cutOff?.(state, zone, members) ?? null;
  if (own === null) return null;
  for (const other of CAUSES) {
    const group = state.alarms.get(groupId(zone, other));
    if (other === cause || group?.active !== true || group.groupedUnder !== null) continue;
    const theirs = other.cutOff?.(state, zone, membersOf(state, group)) ?? null;
    if (theirs !== null && isAtOnce(own, theirs)) return group;
  }
  return null;
}

/** While another alarm stands for an activation that nobody was told of, nothing of it waits for a person. */
function answerFor(member: AlarmRecord, isAnswered: boolean): void {
  if (!member.active || member.annunciatedAt !== null || member.acknowledgedBy !== '') return;
  member.acknowledged = isAnswered;
  member.confirmed = isAnswered;
}

/** A member is not told by itself; one that was told before stays as it was. */
function putUnder(state: CoreState, group: AlarmRecord, member: AlarmRecord): void {
  answerFor(member, true);
  transition(state, member, { kind: 'group', at: state.now, under: group.id });
  if (state.alarming.waiting.delete(member.id)) state.alarming.changed = true;
}

/** Looks at the groups that stand; with the plain conditions, every ten seconds. The timer holds a tick, as theirs do. */
export function watchGroups(state: CoreState): void {
  for (const zone of state.zones.values()) {
    for (const cause of CAUSES) {
      const group = state.alarms.get(groupId(zone, cause));
      if (group?.active !== true) continue;
      const members = dropUnnamed(state, membersOf(state, group));
      const still = members.filter(({ active }) => active);
      const found = still.length > 0 && cause.holds(state, zone, members);
      if (found) {
        if (group.onMs !== 0) setTimer(state, group, 0);
        continue;
      }
      if (group.onMs === 0) setTimer(state, group, state.now);
      if (still.length > 0 && state.now - group.onMs < cause.releaseMs) continue;
      // a group under it that is about to end does so in silence
      if (still.some((member) => isGroup(member) && member.onMs !== 0)) continue;
      const left = still.length === 0 ? 'all of them' : `all but ${still.map(({ id }) => id).join(', ')}`;
      endGroup(state, group, `zone ${zone.key}: ${left} ended`);
    }
  }
  endOrphans(state);
}

/** Nothing looks at the condition of an alarm that the configuration no longer names: the group would never end for it. */
function dropUnnamed(state: CoreState, members: readonly AlarmRecord[]): AlarmRecord[] {
  const named = (member: AlarmRecord): boolean =>
    isGroup(member) || findPlanned(state.plan, member.id) !== null;
  for (const member of members) if (!named(member)) release(state, member);
  return members.filter(named);
}

/** Groups of zones that the configuration no longer has: nothing else would end them. Their members look for others. */
function endOrphans(state: CoreState): void {
  for (const group of [...state.alarming.awake]) {
    if (!group.active || !isGroup(group)) continue;
    const zone = group.motor.slice('zone-'.length);
    if (state.zones.has(zone)) continue;
    const members = dropUnnamed(state, membersOf(state, group));
    for (const member of members) if (member.active) joinGroup(state, member);
    endGroup(state, group, `zone ${zone}: the configuration no longer has it`);
  }
}

function setTimer(state: CoreState, group: AlarmRecord, at: number): void {
  group.onMs = at;
  state.out.alarms.push(group);
}

/** The gateway stood for so long: nothing was heard in it, so that it ends no group. */
export function skipGroupDowntime(state: CoreState, stoodMs: number): void {
  for (const record of state.alarms.values()) {
    if (record.onMs === 0 || !isGroup(record)) continue;
    setTimer(state, record, record.onMs + stoodMs);
  }
}

/** The group returns; those that outlast it speak for themselves. */
function endGroup(state: CoreState, group: AlarmRecord, says: string): void {
  group.onMs = 0;
  const evidence = plainEvidence(state, group.since ?? state.now, says);
  transition(state, group, { kind: 'return', at: state.now, evidence });
  // what returned in this very step leaves the group with its return, and has nothing more to say
  for (const member of membersOf(state, group)) if (member.active) release(state, member);
}

function release(state: CoreState, member: AlarmRecord): void {
  answerFor(member, false);
  transition(state, member, { kind: 'ungroup', at: state.now });
}

/** Evidence of what is not a rate. */
function plainEvidence(state: CoreState, from: number, says: string): Evidence {
  const none = { ratePerMin: null, lowerPerMin: null, upperPerMin: null };
  const setting = { setpointPerMin: null, deadbandPerMin: null, onDelayMs: 0, offDelayMs: 0 };
  return {
    ...{ from, to: state.now, pulses: 0, exposureMs: 0, ...none, dispersion: null, confidence: null },
    ...{ ...setting, strip: [], configuration: state.plan.revision, says },
  };
}
