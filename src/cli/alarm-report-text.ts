/** The report on the alarm system's performance as text for people. */
import type { PerformanceBody } from '../api/alarm-performance-bodies.js';
import { writeDuration } from './duration-argument.js';
import { writeColumns } from './text-columns.js';
import { writeParagraph } from './text-paragraph.js';

const VERDICTS = { within: 'good', manageable: 'much', beyond: 'TOO MUCH' } as const;

export function describeReport(report: PerformanceBody): string {
  return [describeSpan(report), describeFigures(report), ...describeLists(report)].join('\n');
}

function describeSpan({
  from,
  to,
  covered,
  positions,
  alarms,
  days,
  floods,
  time_zone,
}: PerformanceBody): string {
  const at =
    positions === 1 ? 'one operator position' : `${positions} operator positions, taken as equally loaded`;
  const head = writeParagraph(`Alarms announced to ${at}, ${from} to ${to}.`);
  if (covered === null)
    return `${head}\n${writeParagraph('Nothing is known about this time: the journal does not reach there. That is not the same as no alarms.')}`;
  const part =
    covered.from === from && covered.to === to
      ? ''
      : ` The journal tells of ${covered.from} to ${covered.to}; all figures are about that.`;
  const whole = days.filter((day) => day.whole).length;
  const told =
    `${countOf(alarms ?? 0, 'alarm')}, ${countOf(floods.length, 'flood')}; ${countOf(whole, 'whole day')} in ${time_zone}.${part} ` +
    'Time in which the gateway was down counts as quiet.';
  return `${head}\n${writeParagraph(told)}`;
}

function countOf(count: number, what: string): string {
  return `${count} ${what}${count === 1 ? '' : 's'}`;
}

function describeFigures({ figures }: PerformanceBody): string {
  const sources = [...new Set(figures.flatMap(({ published }) => published?.source ?? []))];
  const rows = figures.map(({ title, unit, value, verdict, published }) => [
    title,
    writeValue(value, unit),
    verdict === null ? '' : VERDICTS[verdict],
    published === null ? 'none known' : `${published.says} [${sources.indexOf(published.source) + 1}]`,
  ]);
  const table = writeColumns(['alarms', 'found', '', 'published, per operator position'], rows, [1]);
  const notes = sources.map((source, i) => writeParagraph(source, 0, `[${i + 1}] `)).join('');
  return `${table}\n${notes}`;
}

/** Shares in per cent; null: not known. */
function writeValue(value: number | null, unit: string): string {
  if (value === null) return 'not known';
  if (unit === 'share') return `${writeNumber(value * 100)} %`;
  return writeNumber(value);
}

/** At most three digits behind the point, and never zero for what is not. */
function writeNumber(value: number): string {
  if (Number.isInteger(value)) return String(value);
  return value < 0.0005 ? '< 0.001' : String(Number(value.toFixed(value < 1 ? 3 : 1)));
}

type Row = readonly string[];

function list(title: string, head: Row, rows: readonly Row[], numbers: readonly number[] = []): string[] {
  return rows.length === 0 ? [] : [`${title}\n${writeColumns(head, rows, numbers)}`];
}

function describeLists(report: PerformanceBody): string[] {
  const { frequent, chattering, fleeting, stale, late, shelved } = report;
  const counts = (rows: readonly { count: number; alarm: string }[]): Row[] =>
    rows.map(({ count, alarm }) => [String(count), alarm]);
  const lists = [
    ...list(
      'Most frequent',
      ['times', 'share', 'alarm'],
      frequent.map(({ count, share, alarm }) => [String(count), writeValue(share, 'share'), alarm]),
      [0, 1],
    ),
    ...list('Chattering', ['times', 'alarm'], counts(chattering), [0]),
    ...list('Fleeting', ['times', 'alarm'], counts(fleeting), [0]),
    ...list(
      'Stale at the end',
      ['active since', 'alarm'],
      stale.map(({ since, alarm }) => [since, alarm]),
    ),
    ...list(
      'Not acknowledged within the time to respond',
      ['announced', 'time to respond', 'acknowledged', 'alarm'],
      late.map(({ at, respond_ms, acknowledged_at, alarm }) => [
        at,
        writeDuration(respond_ms),
        acknowledged_at ?? 'not yet',
        alarm,
      ]),
    ),
    ...list(
      'Shelved now',
      ['until', 'by', 'alarm', 'why'],
      shelved.map(({ until, by, alarm, why }) => [until, by, alarm, why]),
    ),
    ...list(
      'Out of service now',
      ['by', 'alarm', 'why'],
      report.out_of_service.map(({ by, alarm, why }) => [by, alarm, why]),
    ),
  ];
  const empty = shelved.length + report.out_of_service.length === 0;
  return empty ? [...lists, 'Nothing is shelved or out of service now.\n'] : lists;
}
