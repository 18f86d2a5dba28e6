/** Alarms day by day, as bars with their number; a day that is only partly covered is hatched by its outline. */
import { stepFor } from './evidence-geometry.js';

interface Day {
  readonly date: string;
  readonly name: string;
  readonly alarms: number;
  readonly whole: boolean;
}

const WIDTH = 900;
const HEIGHT = 150;
const BASE = 124;
const LEFT = 40;

/** Bars with labels fit up to so many days. */
const LABELS_MOST = 16;

export function DayBars({ days }: { days: readonly Day[] }) {
  if (days.length === 0) return null;
  const most = Math.max(1, ...days.map(({ alarms }) => alarms));
  const step = Math.max(1, stepFor(most));
  const top = Math.ceil(most / step) * step;
  const width = (WIDTH - LEFT) / days.length;
  const y = (value: number): number => BASE - (value / top) * (BASE - 16);
  const every = Math.ceil(days.length / LABELS_MOST);
  return (
    <figure class="day-bars">
      <figcaption>
        Alarms told to the operator, day by day. Outlined: a day that is not covered whole.
      </figcaption>
      <svg
        viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
        role="img"
        aria-label={days.map(({ name, alarms }) => `${name}: ${alarms}`).join('; ')}
      >
        {[0, top].map((value) => (
          <g key={value}>
            <path class="day-bars-line" d={`M${LEFT} ${y(value)}H${WIDTH}`} />
            <text x={LEFT - 6} y={y(value) + 4} text-anchor="end">
              {value}
            </text>
          </g>
        ))}
        {days.map(({ date, name, alarms, whole }, place) => {
          const x = LEFT + place * width;
          return (
            <g key={date}>
              <rect
                class={whole ? 'day-bar' : 'day-bar is-part'}
                x={x + width * 0.15}
                y={y(alarms)}
                width={width * 0.7}
                height={BASE - y(alarms)}
              />
              {place % every === 0 && (
                <text x={x + width / 2} y={BASE + 18} text-anchor="middle">
                  {name.replace(/ \d{4}$/, '').replace(/^\w+ /, '')}
                </text>
              )}
            </g>
          );
        })}
      </svg>
    </figure>
  );
}
