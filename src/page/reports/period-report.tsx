/** The report of a shift or a week: every motor in a line, alarms and what people did, alarm load, the balance. */
import type { JournalRow } from '../data/bodies.js';
import { zone } from '../data/clock.js';
import { motorKeys, motorOf } from '../data/plant.js';
import { usePolled } from '../data/use-polled.js';
import { nameChange } from '../alarms/journal-words.js';
import { namePosition } from '../parts/alarm-words.js';
import { DAY_MS, HOUR_MS, formatCount, formatExact, formatRunning } from '../times.js';
import { ALARM_NOTES, RATE_NOTES } from './method-notes.js';
import { journalTable, periodTable } from './period-csv.js';
import { readPeriodFigures, type PeriodFigures, type SensorLine } from './period-figures.js';
import { PeriodPicture } from './period-picture.js';
import { saySpanRate } from './rate-words.js';
import { ReportSheet } from './report-sheet.js';
import { StandingAlarms } from './standing-alarms.js';
import type { ReportSpan } from './report-span.js';

/** A sheet has so many; the CSV file has all. */
const ENTRIES_MOST = 80;
const SHIFT_MOST_MS = 13 * HOUR_MS;
/** Also the weeks in which the clocks change. */
const WEEK_MS = [7 * DAY_MS - HOUR_MS, 7 * DAY_MS + HOUR_MS] as const;

function asidePulses({ sums }: SensorLine): number {
  return sums.reduce((sum, { name, pulses }) => (name === 'running' ? sum : sum + pulses), 0);
}

function Lines({ figures: { lines, transients, leftOut } }: { figures: PeriodFigures }) {
  return (
    <>
      <table class="report-table">
        <thead>
          <tr>
            {['Motor', 'Position', 'Rate a minute', 'Pulses', 'Running', 'Set aside', 'Transients'].map(
              (title, place) => (
                <th scope="col" key={title} class={place > 1 ? 'number' : ''}>
                  {title}
                </th>
              ),
            )}
          </tr>
        </thead>
        <tbody>
          {lines.map((line) => (
            <tr key={line.sensor}>
              <th scope="row">{line.motor}</th>
              <td>{namePosition(line.position)}</td>
              <td class="number">{saySpanRate(line.rate)}</td>
              <td class="number">{formatCount(line.rate.pulses)}</td>
              <td class="number">{line.rate.ms === 0 ? '–' : formatRunning(line.rate.ms)}</td>
              <td class="number">{formatCount(asidePulses(line))}</td>
              <td class="number">{formatCount(transients.get(line.motor) ?? 0)}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {leftOut > 0 && <p>{leftOut} more sensors do not fit into one report: take one for each duty group.</p>}
    </>
  );
}

/** Alarms of the span by what happened to them. */
function AlarmLoad({ performance }: { performance: PeriodFigures['performance'] }) {
  const { alarms, covered, figures } = performance;
  if (covered === null || alarms === null) return <p>The journal tells nothing of this span.</p>;
  const judged = figures.filter(({ verdict }) => verdict === 'beyond');
  return (
    <p>
      {formatCount(alarms)} alarms were announced.{' '}
      {judged.length === 0
        ? 'No figure of the alarm load is beyond what is published.'
        : `Beyond what is published: ${judged.map(({ title }) => title).join('; ')}.`}
    </p>
  );
}

/** `none`: said where there are none */
function Entries({
  rows,
  isWhole,
  title,
  none,
}: {
  rows: readonly JournalRow[];
  isWhole: boolean;
  title: string;
  none: string;
}) {
  if (rows.length === 0) return <p>{none}</p>;
  const left = rows.length - ENTRIES_MOST;
  return (
    <>
      <table class="report-table" aria-label={title}>
        <thead>
          <tr>
            {['When', 'About', 'What', 'Who', 'Says'].map((name) => (
              <th scope="col" key={name}>
                {name}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.slice(0, ENTRIES_MOST).map((row) => (
            <tr key={row.id}>
              <td>{formatExact(Date.parse(row.at), zone.value)}</td>
              <td class="report-word">{row.subject}</td>
              <td>{nameChange(row)}</td>
              <td class="report-word">{row.who === '' ? 'the gateway' : row.who}</td>
              <td class="report-word">{row.text}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {left > 0 && <p>{left} more are in the CSV file.</p>}
      {!isWhole && <p>There are more entries than a report reads; the journal has them all.</p>}
    </>
  );
}

function Body({ figures }: { figures: PeriodFigures }) {
  const { journal, isJournalWhole: isWhole, ledger, performance, isTransientsWhole } = figures;
  const alarms = journal.filter(({ kind }) => kind === 'alarm');
  const others = journal.filter(({ kind }) => kind !== 'alarm');
  return (
    <>
      <section class="report-part" aria-labelledby="report-motors">
        <h2 id="report-motors">Motors</h2>
        <PeriodPicture lines={figures.lines} />
        <Lines figures={figures} />
        <p>
          Rates with 95 % limits. Set aside: pulses of starts, stops and everything else that is not running,
          in the whole hours that hold the span.
          {!isTransientsWhole && ' There were more transients than a report reads.'}
        </p>
      </section>
      <section class="report-part" aria-labelledby="report-alarms">
        <h2 id="report-alarms">Alarms</h2>
        <AlarmLoad performance={performance} />
        <StandingAlarms motor={null} />
        <Entries
          rows={alarms}
          isWhole={isWhole}
          title="What alarms did"
          none="No alarm changed in this span."
        />
      </section>
      <section class="report-part" aria-labelledby="report-others">
        <h2 id="report-others">Work, findings and the gateway</h2>
        <Entries
          rows={others}
          isWhole={isWhole}
          title="Work, findings and the gateway"
          none="Nothing was entered."
        />
        <p>
          Balance of all counts: {ledger.says}
          {ledger.proved_at !== null && `, proved ${formatExact(Date.parse(ledger.proved_at), zone.value)}`}.
        </p>
      </section>
    </>
  );
}

function nameSpan({ from, to }: ReportSpan): string {
  const length = to - from;
  if (length <= SHIFT_MOST_MS) return 'Report of a shift';
  return length >= WEEK_MS[0] && length <= WEEK_MS[1] ? 'Report of a week' : 'Report of a period';
}

export function PeriodReport({ span }: { span: ReportSpan }) {
  const keys = motorKeys.value;
  const { body, problem } = usePolled(
    keys === null ? null : `period ${span.from} ${span.to}`,
    (signal) =>
      readPeriodFigures(
        (keys ?? []).flatMap((key) => motorOf(key).peek() ?? []),
        span,
        signal,
      ),
    null,
  );
  return (
    <ReportSheet
      title={nameSpan(span)}
      {...{ span, problem, madeAt: body?.madeAt ?? null }}
      facts={[['Motors', keys === null ? '' : `${keys.length}`]]}
      csv={
        body === null
          ? []
          : [
              {
                label: 'Figures as CSV',
                name: 'tallypost-period-rates',
                table: () => periodTable(body, span),
              },
              {
                label: 'Journal as CSV',
                name: 'tallypost-period-journal',
                table: () => journalTable(body.journal),
              },
            ]
      }
      notes={[...RATE_NOTES, ...ALARM_NOTES]}
      cautions={[]}
    >
      {body === null && problem === null && <p class="quiet">Gathering the figures of every motor…</p>}
      {body !== null && <Body figures={body} />}
    </ReportSheet>
  );
}
