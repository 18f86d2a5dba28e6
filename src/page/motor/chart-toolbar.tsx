/** Buttons of the time chart: how long a span, where it lies, how it is drawn, and the marks to count between. */
import type { ChartModel } from './chart-model.js';
import { panBy, STEP, zoomBy } from './chart-gestures.js';
import { endNow } from '../charts/span.js';
import { localDate } from '../charts/site-time.js';
import { readNow, zone } from '../data/clock.js';
import { DAY_MS, HOUR_MS } from '../times.js';
import { spanOfDay } from './day-span.js';

const SPANS: readonly (readonly [label: string, ms: number])[] = [
  ['1 h', HOUR_MS],
  ['8 h', 8 * HOUR_MS],
  ['24 h', DAY_MS],
  ['7 days', 7 * DAY_MS],
  ['30 days', 30 * DAY_MS],
  ['1 year', 365 * DAY_MS],
  ['5 years', 5 * 365 * DAY_MS],
];

function isAbout(lengthMs: number, ms: number): boolean {
  return Math.abs(lengthMs / ms - 1) < 0.05;
}

function SpanButtons({ model }: { model: ChartModel }) {
  const { from, to } = model.span.value;
  const choose = (ms: number): void => {
    const now = readNow();
    const middle = (from + to) / 2;
    model.show(model.isFollowing.value ? endNow(ms, now) : { from: middle - ms / 2, to: middle + ms / 2 });
  };
  return (
    <div class="button-row" role="group" aria-label="Length of the span">
      {SPANS.map(([label, ms]) => (
        <button key={label} type="button" aria-pressed={isAbout(to - from, ms)} onClick={() => choose(ms)}>
          {label}
        </button>
      ))}
    </div>
  );
}

function DayChoice({ model }: { model: ChartModel }) {
  const { from, to } = model.span.value;
  const day = localDate((from + to) / 2, zone.value)
    .toISOString()
    .slice(0, 10);
  const take = (text: string): void => {
    const span = spanOfDay(text, to - from, zone.value);
    if (span !== null) model.show(span);
  };
  return (
    <label class="beside">
      Day
      <input type="date" value={day} onChange={(event) => take(event.currentTarget.value)} />
    </label>
  );
}

export function ChartToolbar({ model }: { model: ChartModel }) {
  const { from, to } = model.span.value;
  return (
    <div class="chart-toolbar">
      <SpanButtons model={model} />
      <div class="button-row" role="group" aria-label="Move and zoom">
        <button type="button" aria-label="Earlier" onClick={() => panBy(model, -2 * STEP.pan)}>
          ◀
        </button>
        <button type="button" aria-label="Later" onClick={() => panBy(model, 2 * STEP.pan)}>
          ▶
        </button>
        <button type="button" aria-label="Zoom in" onClick={() => zoomBy(model, STEP.zoom)}>
          +
        </button>
        <button type="button" aria-label="Zoom out" onClick={() => zoomBy(model, 1 / STEP.zoom)}>
          −
        </button>
        <button
          type="button"
          aria-pressed={model.isFollowing.value}
          onClick={() => model.show(endNow(to - from, readNow()))}
        >
          Now
        </button>
      </div>
      <DayChoice model={model} />
    </div>
  );
}
