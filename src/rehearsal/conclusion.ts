/** What a rehearsal comes down to, in plain sentences: counts and times, never a verdict on a bearing. */
import type { Tally } from './activation.js';
import type { AlarmOutcome, ConfirmedEvent } from './outcome.js';

type Parts = Omit<AlarmOutcome, 'conclusion'>;

/** 45 min, 3.5 h, 12 days. */
export function sayLength(ms: number): string {
  const minutes = Math.round(ms / 60_000);
  if (minutes < 120) return `${minutes} min`;
  const hours = ms / 3_600_000;
  return hours < 48 ? `${trim(hours)} h` : `${trim(hours / 24)} days`;
}

function trim(value: number): string {
  return value.toFixed(1).replace(/\.0$/, '');
}

function times(count: number): string {
  return count === 0 ? 'never' : count === 1 ? 'once' : `${count} times`;
}

function standing({ raised, standsAtStart, stoodMs, standsAtEnd }: Tally): string {
  if (stoodMs === 0) return `raised ${times(raised)}`;
  const carried = standsAtStart ? ', standing already at the start' : '';
  return `raised ${times(raised)}${carried}, standing ${sayLength(stoodMs)} in all${standsAtEnd ? ' and at the end still' : ''}`;
}

/** `own`: the events that this alarm raised in the journal. */
export function concludeAlarm(alarm: Parts, own: readonly ConfirmedEvent[]): string {
  return [sayFigures(alarm), ...sayUnrest(alarm), ...sayEvents(own), ...sayJournal(alarm)].join(' ');
}

function sayFigures({ notRehearsed, journal, change, candidate, running }: Parts): string {
  if (notRehearsed !== '') {
    const untried =
      change === null ? '' : ` What the candidate changes of it (${change.what}) is not tried out here.`;
    return `Not rehearsed: ${notRehearsed}. In the journal: ${standing(journal)}.${untried}`;
  }
  if (candidate === null)
    return `The candidate does not have it. Running: ${running === null ? 'not there' : standing(running)}.`;
  if (running === null) return `New with the candidate: ${standing(candidate)}.`;
  if (isSame(candidate, running)) return `No difference: ${standing(candidate)}.`;
  return `The candidate: ${standing(candidate)}. Running: ${standing(running)}.`;
}

export function isSame(a: Tally, b: Tally): boolean {
  return JSON.stringify(a) === JSON.stringify(b);
}

function sayUnrest({ candidate, running }: Parts): string[] {
  if (candidate === null) return [];
  const before = running ?? { chattering: 0, repeated: 0 };
  const said: string[] = [];
  if (candidate.chattering > 0 || before.chattering > 0)
    said.push(`Chattering activations: ${candidate.chattering}, running ${before.chattering}.`);
  if (candidate.repeated > 0 || before.repeated > 0)
    said.push(`Back within the hour: ${candidate.repeated}, running ${before.repeated}.`);
  return said;
}

function sayEvents(own: readonly ConfirmedEvent[]): string[] {
  if (own.length === 0) return [];
  const missed = own.filter(({ candidate }) => candidate.by === null);
  const others = [
    ...new Set(own.map(({ candidate }) => candidate.by).filter((by) => by !== null && by !== own[0]!.alarm)),
  ];
  const instead = others.length === 0 ? '' : ` (${others.join(', ')} stands in)`;
  if (missed.length === 0)
    return [`Of ${own.length} that a person acknowledged or confirmed, none would be missed${instead}.`];
  const alsoMissed = missed.filter(({ running }) => running.by === null).length;
  const also =
    alsoMissed === 0 ? '' : `, ${alsoMissed} of them by the running configuration on this data too`;
  return [
    `Of ${own.length} that a person acknowledged or confirmed, ${missed.length} would be MISSED${also}${instead}.`,
  ];
}

function sayJournal({ journalDifferences: found, journal, notRehearsed }: Parts): string[] {
  if (found.length === 0 || notRehearsed !== '') return [];
  const count = (reason: string): number => found.filter((one) => one.reason === reason).length;
  const reasons = [
    [count('live-knew-later'), 'because live knew later'],
    [count('another-configuration'), 'because another configuration was in force'],
    [count('unexplained'), 'for reasons that the store does not tell'],
  ] as const;
  const said = reasons.filter(([n]) => n > 0).map(([n, why]) => `${n} ${why}`);
  return [
    `The journal (${standing(journal)}) differs from the running configuration played again: ${said.join(', ')}.`,
  ];
}

/** Of the whole rehearsal. */
export function concludeAll(alarms: readonly AlarmOutcome[], events: readonly ConfirmedEvent[]): string {
  const asking = alarms.filter(({ notRehearsed, notice }) => notRehearsed === '' && !notice);
  const sum = (of: 'candidate' | 'running'): number =>
    asking.reduce((total, alarm) => total + (alarm[of]?.raised ?? 0), 0);
  const differing = asking.filter(({ differs }) => differs).length;
  const missed = events.filter(({ candidate }) => candidate.by === null);
  const newly = missed.filter(({ running }) => running.by !== null).length;
  const figures = `Alarms raised: ${sum('candidate')} with the candidate, ${sum('running')} with the running configuration; ${differing} of ${asking.length} rehearsed alarms differ.`;
  if (events.length === 0)
    return `${figures} Nobody acknowledged or confirmed an alarm in this time, and no inspection found damage: what would be missed cannot be judged.`;
  const kept =
    missed.length === 0 ? 'none would be missed' : `${missed.length} would be MISSED, ${newly} of them newly`;
  return `${figures} Of ${events.length} confirmed events ${kept}.`;
}
