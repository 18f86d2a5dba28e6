/** Everything that a report about one motor is made from, read at once. */
import type { CountBody } from '../../../shared/counts.js';
import { COUNT_PAST_MOST_MS } from '../../../shared/limits.js';
import type { SeriesBody, TimelineBody } from '../../../shared/charts.js';
import { fetchBody } from '../data/api-client.js';
import type { Answer, Dossier } from '../data/advice-bodies.js';
import { readNow } from '../data/clock.js';
import type { SensorBody } from '../data/bodies.js';
import type { ReportSpan } from './report-span.js';

/** Steps of a printed curve: more than a sheet can show would be lost. */
const POINTS = 160;
const MARKS_MOST = 500;

export interface PositionFigures {
  readonly sensor: string;
  readonly position: string;
  readonly series: SeriesBody;
  /** of the whole span with limits; null: the span is longer than counts are kept for */
  readonly count: CountBody | null;
  readonly baseline: Answer;
  readonly sisters: Answer;
}

export interface MotorFigures {
  readonly positions: readonly PositionFigures[];
  readonly timeline: TimelineBody;
  readonly dossier: Dossier;
  readonly madeAt: number;
}

async function readPosition(
  { sensor, position }: SensorBody,
  { from, to }: ReportSpan,
  signal: AbortSignal,
): Promise<PositionFigures> {
  const ask = (question: string): Promise<Answer> =>
    fetchBody<Answer>('/compare', { sensor, question, from, to }, signal);
  const isCountable = to - from <= COUNT_PAST_MOST_MS;
  const [series, count, baseline, sisters] = await Promise.all([
    fetchBody<SeriesBody>('/series', { sensor, from, to, points: POINTS, total: 'days' }, signal),
    isCountable ? fetchBody<CountBody>('/counts', { sensor, from, to }, signal) : null,
    ask('baseline'),
    ask('sisters'),
  ]);
  return { sensor, position, series, count, baseline, sisters };
}

/** Rejects as `fetchBody` does. */
export async function readMotorFigures(
  motor: string,
  sensors: readonly SensorBody[],
  span: ReportSpan,
  signal: AbortSignal,
): Promise<MotorFigures> {
  const [timeline, dossier, ...positions] = await Promise.all([
    fetchBody<TimelineBody>('/timeline', { motor, ...span, points: POINTS, limit: MARKS_MOST }, signal),
    fetchBody<Dossier>(`/plan/${encodeURIComponent(motor)}`, {}, signal),
    ...sensors.map((sensor) => readPosition(sensor, span, signal)),
  ]);
  return { timeline, dossier, positions, madeAt: readNow() };
}
