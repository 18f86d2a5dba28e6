/**
 * A rehearsal: the stored past played twice through the live core, under the running and under a candidate configuration, and
 * both set beside the journal. One pass over the store, a day at a time, so memory does not grow with the time played.
 */
import { isNotice } from '../core/alarm-kinds.js';
import type { Plan } from '../core/plan.js';
import { HistoryReader } from '../store/read-history.js';
import type { ReadStore } from '../store/reader.js';
import { tallyActivations } from './activation.js';
import { judgeCandidate, type CandidateJudgement } from './candidate.js';
import { concludeAlarm, concludeAll, isSame } from './conclusion.js';
import { findEvents, type Played } from './events.js';
import { readRecorded } from './journal.js';
import { DifferenceFinder } from './journal-differences.js';
import { plannedAlarms, whyNotRehearsed } from './kinds.js';
import type { AlarmOutcome, Rehearsal } from './outcome.js';
import { Player, type PastStretch, type SensorPast } from './player.js';

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const FINDINGS_MOST = 1000;

export interface RehearsalWish {
  readonly running: Plan;
  readonly candidate: Plan;
  /** null: 30 days before `to`, and the newest stored minute */
  readonly from: number | null;
  readonly to: number | null;
}

/** It cannot be done; `hint`: what to do. */
export class RehearsalRefusal extends Error {
  readonly code = 'refused';
  constructor(
    message: string,
    readonly hint: string,
  ) {
    super(message);
  }
}

const DEFAULT_DAYS = 30;

/** Yields the share that is done, after each day played; returns the answer. Throws `RehearsalRefusal`. */
export function* rehearse(reader: ReadStore, wish: RehearsalWish): Generator<number, Rehearsal> {
  const { running, candidate } = wish;
  const judgement = judgeCandidate(running, candidate);
  refuseUnplayable(judgement);
  const history = new HistoryReader(reader);
  const sensors = [...new Set([...running.sensors.keys(), ...candidate.sensors.keys()])];
  const span = findSpan(history, sensors, wish);
  const actions = history.actions();
  const players = { running: new Player(running, actions), candidate: new Player(candidate, actions) };
  const bins = new Map<string, string>();
  const total = span.to - span.warmUpFrom;
  for (let start = span.warmUpFrom; start < span.to;) {
    const end = Math.min(Math.floor(start / DAY_MS) * DAY_MS + DAY_MS, span.to);
    const stretch = readStretch(history, sensors, bins, start, end);
    players.running.play(stretch);
    players.candidate.play(stretch);
    start = end;
    yield (start - span.warmUpFrom) / total;
  }
  return answer(reader, history, wish, span, judgement, {
    running: { alarms: plannedAlarms(running), log: players.running.log },
    candidate: { alarms: plannedAlarms(candidate), log: players.candidate.log },
  });
}

function refuseUnplayable({ refusals }: CandidateJudgement): void {
  if (refusals.length === 0) return;
  throw new RehearsalRefusal(
    `This candidate cannot be rehearsed: ${refusals.join('; ')}.`,
    'Rehearse a copy of the running configuration in which only alarms, alarmBudget and baseline differ.',
  );
}

interface Span {
  readonly from: number;
  readonly to: number;
  readonly warmUpFrom: number;
  readonly minutesFrom: number;
  /** sensors without anything stored */
  readonly empty: readonly string[];
}

function findSpan(history: HistoryReader, sensors: readonly string[], wish: RehearsalWish): Span {
  const reaches = sensors.map((sensor) => ({ sensor, ...history.reach(sensor) }));
  const known = reaches.filter(({ to }) => to !== null);
  const newest = Math.max(...known.map(({ to }) => to!));
  if (known.length === 0)
    throw new RehearsalRefusal(
      'The store holds no minutes of these sensors.',
      'Check that --data and the names of the motors belong together.',
    );
  const to = Math.floor(Math.min(wish.to ?? newest, newest) / MINUTE_MS) * MINUTE_MS;
  const minutesFrom = Math.min(...known.map(({ minutesFrom: first }) => first!));
  const hours = reaches.flatMap(({ hoursFrom }) => (hoursFrom === null ? [] : [hoursFrom]));
  const from = Math.max(
    Math.floor((wish.from ?? to - DEFAULT_DAYS * DAY_MS) / MINUTE_MS) * MINUTE_MS,
    minutesFrom,
  );
  if (from >= to) {
    const stored = `${new Date(minutesFrom).toISOString()} to ${new Date(newest).toISOString()}`;
    throw new RehearsalRefusal(
      'The store holds no minutes between these times.',
      `Choose a time within ${stored}.`,
    );
  }
  const hour = 60 * MINUTE_MS;
  return {
    ...{ from, to, minutesFrom },
    warmUpFrom: Math.floor(Math.min(minutesFrom, ...hours) / hour) * hour,
    empty: reaches.filter((reach) => reach.to === null).map(({ sensor }) => sensor),
  };
}

/** `bins`: in which bin each sensor ran last; kept up to date. */
function readStretch(
  history: HistoryReader,
  sensors: readonly string[],
  bins: Map<string, string>,
  from: number,
  to: number,
): PastStretch {
  const found = new Map<string, SensorPast>();
  for (const sensor of sensors) {
    const minutes = history.minutes(sensor, from, to, bins.get(sensor) ?? '');
    const hours = history.hours(sensor, from, to);
    if (minutes.length === 0 && hours.size === 0) continue;
    bins.set(sensor, minutes.at(-1)?.lastBin ?? bins.get(sensor) ?? '');
    found.set(sensor, { minutes, hours });
  }
  return { from, to, sensors: found, windows: (sensor, hour) => history.windows(sensor, hour) };
}

function answer(
  reader: ReadStore,
  history: HistoryReader,
  { running, candidate }: RehearsalWish,
  span: Span,
  judgement: CandidateJudgement,
  played: { readonly running: Played; readonly candidate: Played },
): Rehearsal {
  const { from, to, warmUpFrom, minutesFrom } = span;
  const all = new Map([...played.candidate.alarms, ...played.running.alarms]);
  const recorded = readRecorded(history, new Set(all.keys()), warmUpFrom);
  const findings = reader.findings({ motor: null, from, to: null, limit: FINDINGS_MOST, cursor: null }).items;
  const events = findEvents({ from, to, journal: recorded.log, findings, ...played });
  const differences = new DifferenceFinder({
    history,
    recorded,
    running: running.revision,
    warmUpFrom,
    from,
    to,
  });
  const alarms = [...all.values()]
    .sort((a, b) => (a.id < b.id ? -1 : 1))
    .map((alarm): AlarmOutcome => {
      const { id, motor, sensor, kind } = alarm;
      const notRehearsed = whyNotRehearsed(kind);
      const tally = ({ alarms: own, log }: Played) =>
        notRehearsed !== '' || !own.has(id) ? null : tallyActivations(log.of(id), from, to);
      const [was, is] = [tally(played.running), tally(played.candidate)];
      const own = events.filter((event) => event.alarm === id);
      const isCompared = notRehearsed === '' && played.running.alarms.has(id);
      const parts = {
        ...{ id, motor, sensor, kind, notRehearsed, candidate: is, running: was },
        notice: isNotice(kind),
        change: judgement.changes.find((change) => change.id === id) ?? null,
        journal: tallyActivations(recorded.log.of(id), from, to),
        differs: notRehearsed === '' && (was === null || is === null ? was !== is : !isSame(was, is)),
        events: own.length,
        missed: own.filter((event) => event.candidate.by === null).length,
        journalDifferences: isCompared ? differences.find(alarm, played.running.log.of(id)) : [],
      };
      return { ...parts, conclusion: concludeAlarm(parts, own) };
    });
  return {
    ...{ from, to, warmUpFrom, minutesFrom, alarms, events },
    running: running.revision,
    candidate: candidate.revision,
    baseline: judgement.baseline,
    notes: [...judgement.notes, ...sayLimits(span)],
    conclusion: concludeAll(alarms, events),
  };
}

function sayLimits({ from, warmUpFrom, minutesFrom, empty }: Span): string[] {
  const notes: string[] = [];
  if (warmUpFrom < minutesFrom - 60 * MINUTE_MS)
    notes.push(
      `before ${new Date(minutesFrom).toISOString()} only hours are kept: baselines were learnt from them, rates were not looked at`,
    );
  if (from - warmUpFrom < 7 * DAY_MS)
    notes.push(
      'less than 7 days are stored before the beginning: alarms on deviation had no yardstick there yet, as the gateway had none',
    );
  for (const sensor of empty) notes.push(`sensor ${sensor} has no history: it raises nothing here`);
  return notes;
}
