/**
 * Confirmed events: what a person vouched for, and whether the alarms of a configuration would have stood then. An alarm that was
 * acknowledged was at least looked at; one that was confirmed was acted upon; a finding is what an inspection saw.
 * Source: our choice. Alarms of one family are raised by the same discharges, so one may stand in for another; a finding
 * counts as foreseen when an alarm on running discharges stood within the 90 days before it.
 */
import { isNotice } from '../core/alarm-kinds.js';
import type { Finding } from '../core/maintenance-rows.js';
import type { ActivationLog } from './activation.js';
import { familyOf, type RehearsedAlarm, whyNotRehearsed } from './kinds.js';
import type { Catch, ConfirmedEvent } from './outcome.js';

const FORESEEN_MS = 90 * 86_400_000;
/** What current through a bearing leaves behind; other damage says nothing about alarms on discharges. */
const MODES: readonly string[] = [
  'electrical-erosion',
  'excessive-current-erosion',
  'current-leakage-erosion',
];
const SIGNS: readonly string[] = ['craters', 'frosting', 'fluting'];

export interface EventSources {
  readonly from: number;
  readonly to: number;
  readonly journal: ActivationLog;
  readonly findings: readonly Finding[];
  readonly running: Played;
  readonly candidate: Played;
}

/** What one configuration gave. */
export interface Played {
  readonly alarms: ReadonlyMap<string, RehearsedAlarm>;
  readonly log: ActivationLog;
}

/** In order of time. */
export function findEvents(sources: EventSources): ConfirmedEvent[] {
  return [...answeredAlarms(sources), ...damageFound(sources)].sort((a, b) => a.from - b.from);
}

function answeredAlarms(sources: EventSources): ConfirmedEvent[] {
  const { from, to, journal, running, candidate } = sources;
  const all = new Map([...candidate.alarms, ...running.alarms]);
  return [...all.values()].flatMap((alarm) => {
    const { id, kind, sensor } = alarm;
    if (sensor === null || whyNotRehearsed(kind) !== '' || isNotice(kind)) return [];
    const answered = journal
      .of(id)
      .filter((one) => one.answeredAt !== null && one.from < to && (one.to ?? to) > from);
    return answered.map((one): ConfirmedEvent => {
      const span = { from: Math.max(one.from, from), to: Math.max(from + 1, Math.min(one.to ?? to, to)) };
      const seek = { sensor, family: familyOf(kind), first: id, began: one.from, ...span };
      const isConfirmed = one.confirmedBy !== '';
      return {
        what: isConfirmed ? 'confirmed' : 'acknowledged',
        ...{ alarm: id, sensor, ...span },
        who: isConfirmed ? one.confirmedBy : one.acknowledgedBy,
        says: `${id} was ${isConfirmed ? 'confirmed' : 'acknowledged'}`,
        running: seekAlarm(running, seek),
        candidate: seekAlarm(candidate, seek),
      };
    });
  });
}

function damageFound({ from, to, findings, running, candidate }: EventSources): ConfirmedEvent[] {
  return findings.flatMap((finding): ConfirmedEvent[] => {
    const { at, motor, end, modes, signs, withdrawn, by } = finding;
    const seen = [
      ...modes.filter((mode) => MODES.includes(mode)),
      ...signs.filter((sign) => SIGNS.includes(sign)),
    ];
    const span = { from: Math.max(from, at - FORESEEN_MS), to: Math.min(at, to) };
    if (withdrawn !== null || seen.length === 0 || span.from >= span.to) return [];
    const sensor = `${motor}/${end}`;
    const seek = { sensor, family: 'running', first: '', began: span.from, ...span };
    return [
      {
        ...{ what: 'finding', alarm: null, sensor, ...span, who: by },
        says: `an inspection of ${sensor} found ${seen.join(', ')}`,
        running: seekAlarm(running, seek),
        candidate: seekAlarm(candidate, seek),
      },
    ];
  });
}

interface Seek {
  readonly sensor: string;
  readonly family: string;
  /** id of the alarm that is preferred */
  readonly first: string;
  readonly from: number;
  readonly to: number;
  readonly began: number;
}

/** The alarm that stood at some time in the span: the very one if it did, else the earliest of its family. */
function seekAlarm({ alarms, log }: Played, seek: Seek): Catch {
  let found: { by: string; at: number } | null = null;
  for (const { id, kind, sensor } of alarms.values()) {
    if (sensor !== seek.sensor || familyOf(kind) !== seek.family || whyNotRehearsed(kind) !== '') continue;
    const one = log.of(id).find(({ from, to }) => from < seek.to && (to ?? Infinity) > seek.from);
    if (one === undefined) continue;
    if (id === seek.first) return { by: id, delayMs: one.from - seek.began };
    if (found === null || one.from < found.at) found = { by: id, at: one.from };
  }
  return found === null ? { by: null, delayMs: null } : { by: found.by, delayMs: found.at - seek.began };
}
