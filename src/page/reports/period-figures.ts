/** Everything that a report of a shift or a week is made from: a line for each sensor, starts and stops, journal, alarm load. */
import type { SeriesBody } from '../../../shared/charts.js';
import type { CountBody } from '../../../shared/counts.js';
import { COUNT_PAST_MOST_MS, POINTS_LEAST } from '../../../shared/limits.js';
import { fetchPages } from '../data/all-pages.js';
import { fetchBody } from '../data/api-client.js';
import type { JournalPage, JournalRow, MotorBody, Performance, TransientBody } from '../data/bodies.js';
import { readNow } from '../data/clock.js';
import { mapFew } from '../data/map-few.js';
import type { GatewayBody } from '../data/station-bodies.js';
import { listClasses, type ClassSum } from './class-sums.js';
import { rateOfSpan, type SpanRate } from './rate-words.js';
import type { ReportSpan } from './report-span.js';

/** Requests at a time: the gateway has others to serve too. */
const AT_ONCE = 4;
const JOURNAL_PAGES_MOST = 5;
const TRANSIENT_PAGES_MOST = 20;
/** Sensors of one report; a bigger plant takes one report for each duty group. */
export const SENSORS_MOST = 1_000;

export interface SensorLine {
  readonly sensor: string;
  readonly motor: string;
  readonly position: string;
  readonly rate: SpanRate;
  /** the whole hours that hold the span */
  readonly hours: SeriesBody['hours'];
  readonly sums: readonly ClassSum[];
}

export interface PeriodFigures {
  readonly lines: readonly SensorLine[];
  /** sensors beyond the most that a report holds */
  readonly leftOut: number;
  /** transients of a motor; absent: none */
  readonly transients: ReadonlyMap<string, number>;
  readonly isTransientsWhole: boolean;
  readonly journal: readonly JournalRow[];
  readonly isJournalWhole: boolean;
  readonly performance: Performance;
  readonly ledger: GatewayBody['ledger'];
  readonly madeAt: number;
}

async function readLine(
  sensor: string,
  motor: string,
  position: string,
  { from, to }: ReportSpan,
  signal: AbortSignal,
): Promise<SensorLine> {
  const [series, count] = await Promise.all([
    fetchBody<SeriesBody>('/series', { sensor, from, to, points: POINTS_LEAST, total: 'days' }, signal),
    to - from <= COUNT_PAST_MOST_MS ? fetchBody<CountBody>('/counts', { sensor, from, to }, signal) : null,
  ]);
  const rate = rateOfSpan(series, count);
  return { sensor, motor, position, rate, hours: series.hours, sums: listClasses(series.hours) };
}

/** Rejects as `fetchBody` does. */
export async function readPeriodFigures(
  motors: readonly MotorBody[],
  span: ReportSpan,
  signal: AbortSignal,
): Promise<PeriodFigures> {
  const { from, to } = span;
  const sensors = motors.flatMap((motor) => motor.sensors);
  const [journal, transients, performance, gateway, lines] = await Promise.all([
    fetchPages<JournalPage>('/journal', { from, to }, JOURNAL_PAGES_MOST, signal),
    fetchPages<{ transients: TransientBody[]; next: string | null }>(
      '/transients',
      { from, to },
      TRANSIENT_PAGES_MOST,
      signal,
    ),
    fetchBody<Performance>('/alarms/performance', { from, to }, signal),
    fetchBody<GatewayBody>('/gateway', {}, signal),
    mapFew(sensors.slice(0, SENSORS_MOST), AT_ONCE, ({ sensor, motor, position }) =>
      readLine(sensor, motor, position, span, signal),
    ),
  ]);
  const edges = new Map<string, number>();
  for (const { motor } of transients.pages.flatMap((page) => page.transients))
    edges.set(motor, (edges.get(motor) ?? 0) + 1);
  return {
    ...{ lines, performance, transients: edges, isTransientsWhole: transients.isWhole },
    leftOut: Math.max(0, sensors.length - SENSORS_MOST),
    journal: journal.pages.flatMap((page) => page.journal),
    isJournalWhole: journal.isWhole,
    ledger: gateway.ledger,
    madeAt: readNow(),
  };
}
