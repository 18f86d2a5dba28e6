/** A rate over time as vectors, with stretches shaded and moments marked: for the screen and for print. */
import type { SeriesBody } from '../../../shared/charts.js';
import { placeSmallSeries, type SmallPicture } from './small-series.js';
import { nameZone } from './time-axis.js';
import { useWidth } from './use-width.js';
import './charts.css';

const FIRST_WIDTH = 480;

export interface Shade {
  readonly from: number;
  readonly to: number;
  readonly label: string;
}

function Axes({ picture, width }: { picture: SmallPicture; width: number }) {
  const { left, right, top, bottom, ticks, rates } = picture;
  return (
    <>
      {rates.map(({ value, y, label }) => (
        <g key={value} class="tick">
          <line x1={left} x2={right} y1={y} y2={y} />
          <text x={left - 8} y={y + 4} text-anchor="end">
            {label}
          </text>
        </g>
      ))}
      {ticks.map(({ at, label, x }) => (
        <g key={at} class="tick">
          <line x1={x} x2={x} y1={top} y2={bottom} />
          {label.split('\n').map((line, i) => (
            <text key={line} x={Math.min(x, width - 24)} y={bottom + 15 + 13 * i} text-anchor="middle">
              {line}
            </text>
          ))}
        </g>
      ))}
    </>
  );
}

export function SmallSeriesChart({
  points,
  from,
  to,
  zone,
  shades,
  markAt,
  title,
  height,
}: {
  points: SeriesBody['points'];
  from: number;
  to: number;
  zone: string;
  shades: readonly Shade[];
  markAt: number | null;
  title: string;
  height: number;
}) {
  const [place, width] = useWidth(FIRST_WIDTH);
  const picture = placeSmallSeries(points, { width, height, from, to, zone });
  const { top, bottom, line, band, xOf } = picture;
  return (
    <div ref={place}>
      <svg
        class="small-series"
        viewBox={`0 0 ${width} ${height}`}
        role="img"
        aria-label={`${title}. Times in ${nameZone(from, to, zone)}.`}
      >
        {shades.map(({ from: begin, to: end, label }) => (
          <g key={label} class="shade">
            <rect x={xOf(begin)} width={Math.max(0, xOf(end) - xOf(begin))} y={top} height={bottom - top} />
          </g>
        ))}
        <Axes picture={picture} width={width} />
        <path class="band" d={band} />
        <path class="trace" d={line} />
        {shades.map(({ from: begin, label }) => (
          <text key={label} class="shade-label" x={xOf(begin) + 6} y={top + 14}>
            {label}
          </text>
        ))}
        {markAt !== null && <line class="moment" x1={xOf(markAt)} x2={xOf(markAt)} y1={top} y2={bottom} />}
      </svg>
    </div>
  );
}
