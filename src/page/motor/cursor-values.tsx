/** What the time chart says at the cursor, in words: the text alternative of a point, told to readers by ear as it changes. */
import type { SeriesBody, TimelineBody } from '../../../shared/charts.js';
import { pieceAt } from '../charts/lane-pieces.js';
import { pieceOf, type SeriesPoint } from '../charts/rate-data.js';
import { zone } from '../data/clock.js';
import { namePosition } from '../parts/alarm-words.js';
import { formatClock, formatCount, formatExact, formatRate, formatSpan } from '../times.js';
import type { ChartModel } from './chart-model.js';

function toSpans<P extends { readonly from: string; readonly to: string }>(pieces: readonly P[]) {
  return pieces.map((piece) => ({ piece, from: Date.parse(piece.from), to: Date.parse(piece.to) }));
}

function sayState(timeline: TimelineBody, at: number): string {
  const piece = pieceAt(toSpans(timeline.run_states), at)?.piece;
  if (piece === undefined) return 'run state not told';
  if (piece.state === 'several') {
    const { running, standing, changing, unknown } = piece.ms ?? {
      running: 0,
      standing: 0,
      changing: 0,
      unknown: 0,
    };
    const parts = [
      [running, 'running'],
      [standing, 'standing'],
      [changing, 'starting or stopping'],
      [unknown, 'not known'],
    ] as const;
    const said = parts.filter(([ms]) => ms > 0).map(([ms, word]) => `${word} ${formatSpan(ms)}`);
    return said.join(', ');
  }
  return piece.state === 'unknown' ? 'run state unknown' : piece.state;
}

function sayCondition(timeline: TimelineBody, at: number): string {
  const points = timeline.condition.points.map((point) => ({
    ...{ point, from: Date.parse(point.start), to: Date.parse(point.end) },
  }));
  const point = pieceAt(points, at)?.point;
  if (point === undefined) return '';
  const { speed_rpm: speed, load_pct: load } = point;
  return [
    speed === null ? '' : `${formatCount(speed.mean)} rpm`,
    load === null ? '' : `load ${Math.round(load.mean)} %`,
  ]
    .filter((part) => part !== '')
    .join(', ');
}

function sayTransient(timeline: TimelineBody, at: number, slackMs: number): string {
  const found = pieceAt(toSpans(timeline.transients), at, slackMs)?.piece;
  if (found === undefined) return '';
  const what = found.transients > 1 ? `${found.transients} starts and stops` : found.kind;
  const counts = found.counts.map(
    ({ sensor, pulses }) => `${namePosition(sensor.split('/')[1] ?? '')} ${formatCount(pulses)} pulses`,
  );
  return `${what}${counts.length === 0 ? '' : `: ${counts.join(', ')}`}`;
}

type Limits = Pick<SeriesPoint, 'lower_per_min' | 'upper_per_min'>;

const QUALITY_NOTE = { good: '', uncertain: ', uncertain', bad: '' } as const;

function sayLimits({ lower_per_min: lower, upper_per_min: upper }: Limits): string {
  return `${formatRate(lower)} to ${upper === null ? 'more than can be counted' : formatRate(upper)}`;
}

/** What the band says there: limits of a longer piece, which are narrower than those of the bucket. */
function sayPiece(series: SeriesBody, at: number): string {
  const { bucket_ms: bucketMs, limits } = series;
  const piece = limits.piece_ms > bucketMs ? pieceOf(series, at) : null;
  if (piece === null) return '';
  const start = formatClock(Date.parse(piece.start), zone.value);
  return `; in the ${formatSpan(limits.piece_ms)} from ${start} ${formatRate(piece.mean_per_min)} (${sayLimits(piece)}${QUALITY_NOTE[piece.quality]})`;
}

/** Zero and no exposure are two things. */
function sayRate(point: SeriesPoint | null): string {
  if (point === null) return 'nothing stored';
  if (point.mean_per_min === null) {
    const aside = Object.entries(point.excluded_ms);
    if (aside.length === 0) return 'nothing counted then';
    return `no running exposure (${aside.map(([name, ms]) => `${name} ${formatSpan(ms)}`).join(', ')})`;
  }
  const base = point.baseline_per_min === null ? '' : `; baseline ${formatRate(point.baseline_per_min)}`;
  return `${formatRate(point.mean_per_min)} (${sayLimits(point)}${QUALITY_NOTE[point.quality]}), ${formatCount(point.running_pulses)} pulses in ${formatSpan(point.running_ms)}${base}`;
}

function findPoint(points: readonly SeriesPoint[], at: number): SeriesPoint | null {
  return points.find(({ start, end }) => Date.parse(start) <= at && at < Date.parse(end)) ?? null;
}

export function CursorValues({ model }: { model: ChartModel }) {
  const at = model.seenCursor.value;
  const loaded = model.loaded.value;
  if (at === null || loaded === null) {
    return (
      <p class="cursor-values quiet">Point at the chart, or give it the focus and use the arrow keys.</p>
    );
  }
  const { timeline, series } = loaded;
  const bucketMs = series[0]?.bucket_ms ?? 0;
  const start = Math.floor(at / Math.max(1, bucketMs)) * bucketMs;
  const extra = [
    sayState(timeline, at),
    sayCondition(timeline, at),
    sayTransient(timeline, at, bucketMs / 2),
  ].filter((part) => part !== '');
  return (
    <div class="cursor-values" aria-live="polite">
      <p>
        <strong>{formatExact(at, zone.value)}</strong>{' '}
        <span class="quiet">
          in {formatSpan(bucketMs)} from {formatClock(start, zone.value)}
        </span>{' '}
        {extra.join(' · ')}
      </p>
      <ul>
        {series.map((each) => (
          <li key={each.sensor}>
            <strong>{namePosition(each.sensor.split('/')[1] ?? '')}</strong>{' '}
            {sayRate(findPoint(each.points, at))}
            {sayPiece(each, at)}
          </li>
        ))}
      </ul>
    </div>
  );
}
