/** A rehearsal for people: what was played, a table alarm by alarm, and a plain sentence for each that is worth one. */
import type { OutcomeBody } from '../api/rehearsal-bodies.js';
import { sayLength } from '../rehearsal/conclusion.js';
import { writeColumns } from './text-columns.js';
import { writeParagraph } from './text-paragraph.js';

type Alarm = OutcomeBody['alarms'][number];
type Event = OutcomeBody['events'][number];

const LEGEND =
  '* candidate and running differ. Raised: in the journal / running configuration played again / candidate. Stood, chattering ' +
  '(one of at least three activations within a minute) and back (less than an hour after the one before): running / ' +
  'candidate. Missed: by the candidate, of those that a person acknowledged or confirmed.';

export function writeOutcome(outcome: OutcomeBody): string {
  const rehearsed = outcome.alarms.filter((alarm) => alarm.not_rehearsed === '');
  const told = rehearsed.filter(hasStood);
  const quiet = rehearsed.filter((alarm) => !hasStood(alarm));
  return [
    `rehearsed   ${outcome.from} to ${outcome.to}\n`,
    `played from ${outcome.warm_up_from}\n`,
    `running     ${outcome.running}\n`,
    `candidate   ${outcome.candidate}\n\n`,
    writeParagraph(outcome.conclusion),
    ...outcome.notes.map((note) => writeParagraph(note, 0, '- ')),
    writeTable(told),
    ...writeQuiet(quiet),
    ...told.map((alarm) => writeParagraph(`${alarm.id}${sayChange(alarm)}: ${alarm.conclusion}`, 0, '- ')),
    ...writeEvents(outcome.events),
    ...writeNotRehearsed(outcome.alarms.filter((alarm) => alarm.not_rehearsed !== '')),
  ].join('');
}

function hasStood({ journal, running, candidate }: Alarm): boolean {
  return [journal, running, candidate].some((tally) => (tally?.stood_ms ?? 0) > 0);
}

/** What neither configuration raised: that a change made no difference is worth a line. */
function writeQuiet(alarms: readonly Alarm[]): string[] {
  const changed = alarms.filter(({ change }) => change !== null).map(({ id }) => id);
  const same = alarms.length - changed.length;
  const lines: string[] = [];
  if (changed.length > 0)
    lines.push(`changed by the candidate, and raised by neither (${changed.length}): ${changed.join(', ')}`);
  if (same > 0) lines.push(`unchanged, and raised by neither: ${same} more`);
  return lines.map((line) => writeParagraph(line, 0, '- '));
}

function writeTable(alarms: readonly Alarm[]): string {
  if (alarms.length === 0) return '';
  const pair = (alarm: Alarm, take: (tally: Alarm['journal']) => string): string =>
    [alarm.running, alarm.candidate].map((tally) => (tally === null ? '-' : take(tally))).join(' / ');
  const rows = alarms.map((alarm) => [
    alarm.differs ? '*' : '',
    alarm.id,
    `${alarm.journal.raised} / ${pair(alarm, ({ raised }) => String(raised))}`,
    pair(alarm, ({ stood_ms }) => sayLength(stood_ms)),
    pair(alarm, ({ chattering }) => String(chattering)),
    pair(alarm, ({ repeated }) => String(repeated)),
    alarm.events === 0 ? '-' : `${alarm.missed} of ${alarm.events}`,
  ]);
  const head = ['', 'alarm', 'raised', 'stood', 'chattering', 'back', 'missed'];
  return `\n${writeColumns(head, rows)}\n${writeParagraph(LEGEND)}\n`;
}

function sayChange({ change }: Alarm): string {
  if (change === null) return '';
  if (change.what !== 'changed') return ` (${change.what})`;
  const settings = change.settings.map(
    ({ name, running, candidate }) => `${name} ${running ?? 'absent'} -> ${candidate ?? 'absent'}`,
  );
  return ` (${settings.join(', ')})`;
}

function writeEvents(events: readonly Event[]): string[] {
  const missed = events.filter(({ candidate }) => candidate.by === null);
  if (missed.length === 0) return [];
  const lines = missed.map((event) => {
    const also = event.running.by === null ? '; the running configuration misses it on this data too' : '';
    const who = event.who === '' ? '' : ` by ${event.who}`;
    return writeParagraph(`${event.from} to ${event.to}: ${event.says}${who}${also}`, 0, '- ');
  });
  return ['\nMissed by the candidate\n', ...lines];
}

/** Those that the candidate changes, or that the journal knows, one by one; the others by kind. */
function writeNotRehearsed(alarms: readonly Alarm[]): string[] {
  if (alarms.length === 0) return [];
  const kinds = new Map<string, Alarm[]>();
  for (const alarm of alarms) kinds.set(alarm.kind, [...(kinds.get(alarm.kind) ?? []), alarm]);
  const lines = [...kinds].map(([kind, list]) => {
    const raised = list.reduce((sum, { journal }) => sum + journal.raised, 0);
    const changed = list.filter(({ change }) => change !== null).map(({ id }) => id);
    const untried =
      changed.length === 0 ? '' : ` The candidate changes ${changed.join(', ')}: that is not tried out here.`;
    return writeParagraph(
      `${kind}: ${list[0]!.not_rehearsed}. ${list.length} ${list.length === 1 ? 'alarm' : 'alarms'}, raised ${raised} times in the journal.${untried}`,
      0,
      '- ',
    );
  });
  return ['\nNot rehearsed\n', ...lines];
}
