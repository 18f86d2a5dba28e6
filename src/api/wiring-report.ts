/** Brings together what is known of each sensor's wiring: from the store, from the intake since the start, and from the plan. */
import { findBreak, traceSensor } from '../advice/wiring-chain.js';
import {
  latest,
  type DenialTrace,
  type Link,
  type LinkName,
  type SensorTrace,
} from '../advice/wiring-trace.js';
import type { AlarmRecord } from '../core/alarm-rows.js';
import type { MotorPlan, SensorPlan } from '../core/plan.js';
import type { ApiDeps, DiagnosticRow, LastDrive } from './deps.js';
import { findKnownTo } from './drive-state.js';
import type { Arrival, Contact, Denial, Refused } from './station-reader.js';

const HOUR_MS = 3_600_000;
/** What became of a sensor's time is told of so long, or of this many of its intervals: whoever mends a fault sees it soon. */
const LATELY_MS = 600_000;
const LATELY_INTERVALS = 12;
/** How the engine begins the reason of what was turned away: the intake knows more of it. */
export const DENIED = 'not authorised';

export interface SensorWiring {
  readonly plan: SensorPlan;
  readonly device: string | null;
  readonly broken: LinkName | null;
  readonly chain: readonly Link[];
}

/** What all sensors of a page share. */
interface Findings {
  readonly now: number;
  readonly upMs: number;
  readonly site: string;
  readonly heard: ReadonlyMap<string, Contact>;
  readonly denied: readonly Denial[];
  readonly logins: ReadonlyMap<string, readonly string[]>;
  /** by topic, newest of each */
  readonly refused: ReadonlyMap<string, Refused>;
  readonly denials: ReadonlyMap<string, Refused>;
  readonly arrivals: ReadonlyMap<string, Arrival>;
  readonly drives: ReadonlyMap<string, LastDrive>;
  /** all that the store has, standing or not */
  readonly alarms: readonly AlarmRecord[];
  /** topics that some login may publish to; null: without logins, all */
  readonly allowed: ReadonlySet<string> | null;
  readonly diagnostics: readonly DiagnosticRow[];
  readonly notStoring: readonly string[];
  readonly sinks: SensorTrace['sinks'];
}

/** The chains of the sensors, in their order. */
export async function reportWiring(sensors: readonly SensorPlan[], deps: ApiDeps): Promise<SensorWiring[]> {
  const findings = await gather(sensors, deps);
  return sensors.map((plan) => {
    const chain = traceSensor(toTrace(plan, deps.plan().motors.get(plan.motor)!, findings));
    const device = findings.arrivals.get(plan.key)?.device ?? null;
    return { plan, device, broken: findBreak(chain), chain };
  });
}

async function gather(sensors: readonly SensorPlan[], deps: ApiDeps): Promise<Findings> {
  const { reader, station } = deps;
  const now = deps.now();
  const topics = sensors.flatMap(({ key }) => listTopics(deps.plan().site, key));
  const [arrivals, refused, drives, alarms, diagnostics, contacts, figures, standing, sinks] =
    await Promise.all([
      reader.arrivals({
        sensors: sensors.map(({ key }) => key),
        since: now - Math.max(LATELY_MS, ...sensors.map(({ intervalMs }) => LATELY_INTERVALS * intervalMs)),
        reasonsSince: now - HOUR_MS,
      }),
      reader.refused(),
      reader.drives(),
      reader.alarms(),
      reader.diagnostics(),
      station.contacts(topics),
      station.figures(),
      deps.standing(),
      station.sinks(),
    ]);
  const { heard, denied, logins } = contacts;
  const isDenial = ({ reason }: Refused): boolean => reason.startsWith(DENIED);
  return {
    ...{ now, upMs: Math.max(0, now - figures.startedAt), site: deps.plan().site, denied, logins },
    heard: new Map(heard.map((each) => [each.topic, each])),
    refused: newestByTopic(refused.filter((each) => !isDenial(each))),
    denials: newestByTopic(refused.filter(isDenial)),
    arrivals: new Map(arrivals.map((each) => [each.sensor, each])),
    drives: new Map(drives.map((each) => [each.motor, each])),
    ...{ alarms, diagnostics, allowed: logins.size === 0 ? null : new Set([...logins.values()].flat()) },
    notStoring: standing.unreadyReasons,
    sinks: sinks.map(({ sink, state, lastDeliveredAt, lastErrorAt, lastError, says }) => ({
      ...{ sink, isFailing: state === 'failing', lastDeliveredAt, lastErrorAt, lastError, says },
    })),
  };
}

/** Those of a sensor's readings and of its presence. */
function listTopics(site: string, sensor: string): [reading: string, presence: string] {
  return [`${site}/in/${sensor}/reading`, `${site}/in/${sensor}/presence`];
}

/** Rows come newest first. */
function newestByTopic(rows: readonly Refused[]): Map<string, Refused> {
  const newest = new Map<string, Refused>();
  for (const row of rows) if (!newest.has(row.topic)) newest.set(row.topic, row);
  return newest;
}

function toTrace(sensor: SensorPlan, motor: MotorPlan, found: Findings): SensorTrace {
  const { key, intervalMs } = sensor;
  const [topic, presence] = listTopics(found.site, key);
  const contacts = [found.heard.get(topic), found.heard.get(presence)];
  const at = latest(contacts[0]?.at, contacts[1]?.at);
  const arrival = found.arrivals.get(key);
  const refused = found.refused.get(topic);
  return {
    ...{ sensor: key, now: found.now, intervalMs, upMs: found.upMs, topic },
    heard: at === null ? null : { at, client: contacts.find((each) => each?.at === at)!.client },
    ...{ denied: findDenied(topic, found), hasLogin: mayAnyone(topic, found) },
    refused: toRefused(refused),
    lastReadingAt: arrival?.lastReadingAt ?? null,
    alarms: found.alarms
      .filter((alarm) => alarm.active && alarm.sensor === key)
      .map(({ kind, since, evidence }) => ({ kind, since, says: evidence?.says ?? '' })),
    ended: found.alarms.flatMap(({ kind, active, since, sensor: of, motor: at }) =>
      active || since === null || (of ?? at) !== (of === null ? motor.key : key) ? [] : [{ kind, at: since }],
    ),
    diagnostics: found.diagnostics.filter(({ subject }) => subject === key),
    isClockOff: arrival?.isClockOff ?? null,
    drive: toDriveTrace(motor, found),
    classes: {
      ...{ to: arrival?.classifiedTo ?? null, ms: arrival?.ms ?? {} },
      ...{ reason: arrival?.reason ?? '', reasonAt: arrival?.reasonAt ?? null },
    },
    ...{ notStoring: found.notStoring, sinks: found.sinks },
  };
}

function toRefused(row: Refused | undefined): SensorTrace['refused'] {
  return row === undefined ? null : { at: row.lastAt, client: row.client, reason: row.reason };
}

function mayAnyone(topic: string, { allowed }: Findings): boolean {
  return allowed === null || allowed.has(topic);
}

/**
 * The newest of: a publish of the topic that was denied, whatever was denied of a login that has it, and what the store holds. What a
 * login tries elsewhere is most often a wrong topic in the device.
 */
function findDenied(topic: string, found: Findings): SensorTrace['denied'] {
  const live = found.denied.find(
    ({ kind, topic: tried, login }) =>
      (kind === 'denied-publish' && tried === topic) ||
      (kind !== 'denied-subscribe' && (found.logins.get(login) ?? []).includes(topic)),
  );
  const kept = found.denials.get(topic);
  if (live !== undefined && live.lastAt >= (kept?.lastAt ?? -Infinity))
    return toDenial(live.lastAt, live, (found.logins.get(live.login) ?? []).length !== 1);
  if (kept === undefined) return null;
  return toDenial(kept.lastAt, { ...kept, rule: kept.reason }, true);
}

function toDenial(
  at: number,
  { count, client, topic, rule }: Pick<Denial, 'count' | 'client' | 'topic' | 'rule'>,
  isShared: boolean,
): DenialTrace {
  return { at, count, client, topic, rule, isShared };
}

function toDriveTrace(motor: MotorPlan, found: Findings): SensorTrace['drive'] {
  const topic = `${found.site}/in/${motor.key}/drive/state`;
  const last = found.drives.get(motor.key);
  const knownTo = last === undefined ? Infinity : findKnownTo(motor, last);
  return {
    ...{ hasRunState: motor.hasRunState, hasLogin: mayAnyone(topic, found) },
    ...{ topic, state: last?.state ?? null, clockDoubt: findClockDoubt(motor.key, found) },
    ...{ modulating: last?.modulating === true, at: last?.at ?? null },
    unknownFrom: found.now > knownTo ? knownTo : null,
    refused: toRefused(found.refused.get(topic)),
    denied: findDenied(topic, found),
  };
}

function findClockDoubt(motor: string, { diagnostics }: Findings): SensorTrace['drive']['clockDoubt'] {
  const found = diagnostics.find(({ subject, kind }) => subject === motor && kind === 'clock-doubtful');
  return found === undefined ? null : { at: found.lastAt, says: found.detail };
}
