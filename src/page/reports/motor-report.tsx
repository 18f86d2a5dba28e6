/** The report of one motor over a span: both positions, what was set aside, how it compares, what was done, hypotheses. */
import { SmallSeriesChart } from '../charts/small-series-chart.js';
import { zone } from '../data/clock.js';
import type { MotorBody } from '../data/bodies.js';
import { motorOf } from '../data/plant.js';
import { usePolled } from '../data/use-polled.js';
import { namePosition } from '../parts/alarm-words.js';
import type { Fact } from '../parts/fact-list.js';
import { formatCount, formatRunning, formatSpan } from '../times.js';
import { ClassTable } from './class-table.js';
import { listClasses } from './class-sums.js';
import { HypothesisPart } from './hypothesis-part.js';
import { MarkTable } from './mark-table.js';
import { ALARM_NOTES, GROUP_NOTES, RATE_NOTES } from './method-notes.js';
import { markTable, seriesTable } from './motor-csv.js';
import { readMotorFigures, type MotorFigures, type PositionFigures } from './motor-figures.js';
import { rateOfSpan, saySpanRate } from './rate-words.js';
import { ReportSheet } from './report-sheet.js';
import type { ReportSpan } from './report-span.js';
import { StandingAlarms } from './standing-alarms.js';
import { RunStrip, sumStates } from './run-strip.js';

const CURVE_HEIGHT = 190;

function sayAnswer({ sentence, missing }: PositionFigures['sisters']): string {
  return missing === '' || sentence.includes(missing) ? sentence : `${sentence} Still missing: ${missing}.`;
}

function Position({
  figures,
  span,
  timeline,
}: {
  figures: PositionFigures;
  span: ReportSpan;
  timeline: MotorFigures['timeline'];
}) {
  const { sensor, position, series, count, baseline, sisters } = figures;
  const total = rateOfSpan(series, count);
  const title = `${namePosition(position)} of ${sensor}`;
  return (
    <section class="report-part is-whole" aria-labelledby={`report-${position}`}>
      <h2 id={`report-${position}`}>{namePosition(position)}</h2>
      {total.rate === null ? (
        <p>
          <strong>No running exposure in this span</strong>, and so no rate.
        </p>
      ) : (
        <p>
          <strong>{saySpanRate(total)} pulses a minute of running</strong>: {formatCount(total.pulses)} pulses
          in {formatRunning(total.ms)} of running
          {total.hasLimits && ', with 95 % limits'}
          {total.days !== null && ` from the differences between its ${total.days} running days`}.
          {count !== null && count.quality !== 'good' && ` Quality: ${count.quality}.`}
        </p>
      )}
      {series.points.length > 0 && (
        <figure>
          <SmallSeriesChart
            points={series.points}
            {...{ ...span, zone: zone.value, shades: [], markAt: null, height: CURVE_HEIGHT }}
            title={`Rate at the ${title}, pulses per minute of running, with 95 % limits`}
          />
          <RunStrip timeline={timeline} {...span} title={`When ${timeline.motor} ran`} />
          <figcaption>
            Pulses per minute of running in steps of {formatSpan(series.bucket_ms)}; the band holds the 95 %
            limits, gaps are without running exposure. Under it: when the motor ran.
          </figcaption>
        </figure>
      )}
      <ul class="report-notes">
        <li>Against its own past: {sayAnswer(baseline)}</li>
        <li>Against its sisters: {sayAnswer(sisters)}</li>
      </ul>
    </section>
  );
}

function Transients({ timeline }: { timeline: MotorFigures['timeline'] }) {
  const { transients } = timeline;
  const starts = transients.reduce((sum, each) => sum + each.transients, 0);
  const states = sumStates(timeline);
  const told = (['running', 'standing', 'changing', 'unknown'] as const)
    .filter((name) => states[name] > 0)
    .map((name) => `${name === 'unknown' ? 'not known' : name} ${formatRunning(states[name])}`);
  return (
    <p>
      The motor: {told.length === 0 ? 'nothing told' : told.join(', ')}; {formatCount(starts)} transients
      (starts and stops), whose pulses stand apart below.
    </p>
  );
}

function Body({ figures, span }: { figures: MotorFigures; span: ReportSpan }) {
  const { positions, timeline, dossier } = figures;
  return (
    <>
      {positions.map((each) => (
        <Position key={each.sensor} figures={each} span={span} timeline={timeline} />
      ))}
      <section class="report-part" aria-labelledby="report-classes">
        <h2 id="report-classes">What was counted, and set aside</h2>
        <Transients timeline={timeline} />
        <ClassTable
          hours={positions.find(({ series }) => series.hours !== null)?.series.hours ?? null}
          positions={positions.map(({ position, series }) => ({ position, sums: listClasses(series.hours) }))}
        />
      </section>
      <section class="report-part" aria-labelledby="report-marks">
        <h2 id="report-marks">Work, findings and alarms</h2>
        <StandingAlarms motor={timeline.motor} />
        <MarkTable marks={timeline.marks} hasMore={timeline.next !== null} />
      </section>
      <HypothesisPart dossier={dossier} />
    </>
  );
}

function factsOf(motor: MotorBody): Fact[] {
  return [
    ['Duty group', motor.duty_group],
    ['Area', motor.zone === '' ? 'none named' : motor.zone],
  ];
}

export function MotorReport({ motor, span }: { motor: string; span: ReportSpan }) {
  const known = motorOf(motor).value;
  const { body, problem } = usePolled(
    known === null ? null : `motor ${motor} ${span.from} ${span.to}`,
    (signal) => readMotorFigures(motor, known?.sensors ?? [], span, signal),
    null,
  );
  const name = `tallypost-${motor}`;
  return (
    <ReportSheet
      title={`Discharges at ${motor}`}
      {...{ span, problem, madeAt: body?.madeAt ?? null }}
      facts={known === null ? [] : factsOf(known)}
      csv={
        body === null
          ? []
          : [
              {
                label: 'Figures as CSV',
                name: `${name}-rates`,
                table: () => seriesTable(body.positions.map(({ series }) => series)),
              },
              { label: 'Marks as CSV', name: `${name}-marks`, table: () => markTable(body.timeline) },
            ]
      }
      notes={[...RATE_NOTES, ...GROUP_NOTES, ...ALARM_NOTES]}
      cautions={body?.dossier.advice.cautions ?? []}
    >
      {body === null && problem === null && <p class="quiet">Gathering the figures of {motor}…</p>}
      {body !== null && <Body figures={body} span={span} />}
    </ReportSheet>
  );
}
