/** The rates of the span as a table: what the chart shows, for readers by ear and for copying. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import type { SeriesBody } from '../../../shared/charts.js';
import { nameSpan } from '../charts/span.js';
import { addressOf, fetchBody } from '../data/api-client.js';
import { zone } from '../data/clock.js';
import { LatestLoad } from '../data/latest-load.js';
import { namePosition } from '../parts/alarm-words.js';
import { ProblemNote } from '../parts/problem-note.js';
import { writeLimited } from '../parts/rate-limits.js';
import { formatCount, formatExact, formatRate, formatRunning, formatSpan } from '../times.js';
import type { ChartModel } from './chart-model.js';
import { ColumnHeads } from '../parts/column-heads.js';

const ROWS = 60;

function Row({ point }: { point: SeriesBody['points'][number] }) {
  const { mean_per_min: mean, lower_per_min: lower, upper_per_min: upper } = point;
  const ran = mean !== null;
  const words = ran ? writeLimited({ mean, lower: lower ?? 0, upper }) : null;
  const aside = Object.entries(point.excluded_ms)
    .map(([name, ms]) => `${name} ${formatSpan(ms)}`)
    .join(', ');
  return (
    <tr>
      <th scope="row">{formatExact(Date.parse(point.start), zone.value)}</th>
      <td class="number">{words?.mean ?? 'no exposure'}</td>
      <td class="number">{words?.limits ?? ''}</td>
      <td class="number">
        {ran ? `${formatRate(point.min_per_min)} to ${formatRate(point.max_per_min)}` : ''}
      </td>
      <td class="number">{ran ? formatCount(point.running_pulses) : ''}</td>
      <td class="number">{point.running_ms === 0 ? '0 s' : formatRunning(point.running_ms)}</td>
      <td>{aside}</td>
    </tr>
  );
}

function Table({ series }: { series: SeriesBody }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={`Rates of ${series.sensor}`}>
      <table>
        <caption>
          {namePosition(series.sensor.split('/')[1] ?? '')}: pulses per minute of running, in steps of{' '}
          {formatSpan(series.bucket_ms)} (
          <a href={addressOf('/series', { sensor: series.sensor, from: series.from, to: series.to })}>
            as data
          </a>
          )
        </caption>
        <ColumnHeads
          titles={['From', 'Mean', '95 % limits', 'Lowest to highest', 'Pulses', 'Running', 'Set aside']}
        />
        <tbody>
          {series.points.map((point) => (
            <Row key={point.start} point={point} />
          ))}
        </tbody>
      </table>
      {series.points.length === 0 && <p>Nothing was counted in this span.</p>}
    </div>
  );
}

export function FigureTable({ model, sensors }: { model: ChartModel; sensors: readonly string[] }) {
  const [isOpen, setOpen] = useState(false);
  const tables = useMemo(() => new LatestLoad<readonly SeriesBody[]>(), [model]);
  const settled = model.settled.value;
  useEffect(() => {
    if (!isOpen) return undefined;
    void tables.load(nameSpan(settled), (signal) =>
      Promise.all(
        sensors.map((sensor) =>
          fetchBody<SeriesBody>('/series', { sensor, ...settled, points: ROWS }, signal),
        ),
      ),
    );
    return () => tables.end();
  }, [isOpen, settled, tables]);
  // until the next rows come those of the span before stay, each with its own time
  const kept = tables.kept.value;
  return (
    <details class="figure-table" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>The figures as a table</summary>
      {kept !== null && kept.problem !== null && <ProblemNote problem={kept.problem} />}
      {isOpen && kept?.body?.map((series) => <Table key={series.sensor} series={series} />)}
    </details>
  );
}
