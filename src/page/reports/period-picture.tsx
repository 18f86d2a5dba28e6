/** The rates of a period as one picture: a point with its limits for each sensor, the highest first. */
import { IntervalChart } from '../charts/interval-chart.js';
import type { SensorLine } from './period-figures.js';

/** A sheet is so long; the table below has all. */
const ROWS_MOST = 24;

export function PeriodPicture({ lines }: { lines: readonly SensorLine[] }) {
  const ran = lines.filter(({ rate }) => rate.rate !== null);
  const shown = [...ran].sort((a, b) => (b.rate.rate ?? 0) - (a.rate.rate ?? 0)).slice(0, ROWS_MOST);
  if (shown.length === 0) return null;
  return (
    <figure>
      <IntervalChart
        rows={shown.map(({ sensor, rate }) => ({
          ...{ key: sensor, label: sensor, note: '', missing: '', isHollow: !rate.hasLimits },
          mean: rate.rate,
          lower: rate.hasLimits ? (rate.lower ?? 0) : (rate.rate ?? 0),
          upper: rate.hasLimits ? rate.upper : rate.rate,
        }))}
        title="Rates of the period, the highest first; the table below has the same figures"
        unit="pulses per minute of running, logarithmic"
        reference={null}
        referenceWord=""
      />
      <figcaption>
        The highest first, with 95 % limits where the span is short enough for them
        {ran.length > ROWS_MOST && `; ${ROWS_MOST} of ${ran.length} sensors`}.
      </figcaption>
    </figure>
  );
}
