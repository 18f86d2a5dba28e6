/** The big time chart: one rate for each position, and the lanes under them, all on one time axis. */
import { effect } from '@preact/signals';
import { useEffect, useRef, useState } from 'preact/hooks';
import { LANE_GAP_PX, LANES, LANES_HEIGHT_PX, LaneCanvas } from '../charts/lane-canvas.js';
import { onThemeChange } from '../charts/ink.js';
import { GUTTER_PX, RateChart, RIGHT_PX, type VerticalLine } from '../charts/rate-chart.js';
import { nameZone } from '../charts/time-axis.js';
import { zone } from '../data/clock.js';
import { namePosition } from '../parts/alarm-words.js';
import { followGestures, Pin } from './chart-gestures.js';
import type { ChartModel } from './chart-model.js';

/** Of the plot of one position: at least so much, and more on a screen that has it. */
const CHART_PX = { least: 160, most: 400, share: 0.2 } as const;
const TIMES_PX = 44;

interface Drawing {
  readonly charts: readonly RateChart[];
  readonly lanes: LaneCanvas;
}

function linesOf(model: ChartModel): VerticalLine[] {
  const set = [
    [model.markA.value, 'A'],
    [model.markB.value, 'B'],
  ] as const;
  const own = set.flatMap(([at, label]) => (at === null ? [] : [{ at, label, isStrong: true }]));
  const done = (model.loaded.value?.timeline.marks ?? [])
    .filter(({ kind }) => kind === 'action')
    .map(({ at }) => ({ at: Date.parse(at), label: '', isStrong: false }));
  return [...done, ...own];
}

/** Keeps the drawing in step with the model; a span that changes many times in a frame is drawn once. */
function followModel(model: ChartModel, root: HTMLElement, { charts, lanes }: Drawing): () => void {
  let frame = 0;
  const drawSpan = (): void => {
    frame = 0;
    const span = model.span.peek();
    for (const chart of charts) chart.setSpan(span);
    lanes.setSpan(span);
  };
  const ends = [
    effect(() => {
      void model.span.value;
      if (frame === 0) frame = requestAnimationFrame(drawSpan);
    }),
    effect(() => {
      const loaded = model.loaded.value;
      if (loaded === null) return;
      charts.forEach((chart, i) => chart.setSeries(loaded.series[i]!));
      root.dataset['points'] = String(Math.max(0, ...charts.map(({ drawn }) => drawn)));
      lanes.setData({ timeline: loaded.timeline, points: loaded.series[0]?.points ?? [] });
    }),
    effect(() => {
      const lines = linesOf(model);
      for (const chart of charts) chart.setLines(lines);
      lanes.setLines(lines);
    }),
    effect(() => {
      const at = model.cursor.value;
      for (const chart of charts) chart.setCursor(at);
    }),
  ];
  return () => {
    cancelAnimationFrame(frame);
    for (const end of ends) end();
  };
}

function mount(model: ChartModel, root: HTMLElement, positions: number, isCompressed: boolean): () => void {
  const width = root.clientWidth;
  const pin = new Pin(model);
  const plotPx = Math.round(Math.min(CHART_PX.most, Math.max(CHART_PX.least, CHART_PX.share * innerHeight)));
  const charts = Array.from({ length: positions }, (_, i) => {
    const isLast = i === positions - 1;
    const place = root.querySelector<HTMLElement>(`[data-chart="${i}"]`)!;
    return new RateChart(place, width, model.span.peek(), {
      ...{ height: plotPx + (isLast ? TIMES_PX : 0), zone: zone.peek(), hasTimes: isLast, isCompressed },
      onCursor: (at) => pin.point(at),
      onSelect: (span) => model.show(span),
    });
  });
  const edges = { leftPx: GUTTER_PX, rightPx: RIGHT_PX };
  const canvas = root.querySelector<HTMLCanvasElement>('canvas.lanes')!;
  const laneWidth = (): number => root.clientWidth - GUTTER_PX - RIGHT_PX;
  const lanes = new LaneCanvas(canvas, laneWidth(), model.span.peek());
  const ends = [
    followModel(model, root, { charts, lanes }),
    followGestures(model, root, edges),
    pin.follow(root, edges),
    onThemeChange(() => {
      for (const chart of charts) chart.applyTheme();
      lanes.applyTheme();
    }),
  ];
  const observer = new ResizeObserver(() => {
    for (const chart of charts) chart.resize(root.clientWidth);
    lanes.resize(laneWidth());
  });
  observer.observe(root);
  return () => {
    observer.disconnect();
    for (const end of ends) end();
    for (const chart of charts) chart.destroy();
  };
}

function LaneTitles() {
  return (
    <div class="lane-titles" aria-hidden="true">
      {LANES.map(({ key, title, heightPx }) => (
        <span key={key} style={{ height: `${heightPx}px`, marginBottom: `${LANE_GAP_PX}px` }}>
          {title}
        </span>
      ))}
    </div>
  );
}

/** `positions`: of the sensors, in the order of the model's. */
export function TimeChart({
  model,
  motor,
  positions,
}: {
  model: ChartModel;
  motor: string;
  positions: readonly string[];
}) {
  const [isCompressed, setCompressed] = useState(false);
  const root = useRef<HTMLDivElement>(null);
  useEffect(
    () => (root.current === null ? undefined : mount(model, root.current, positions.length, isCompressed)),
    [model, positions.length, isCompressed, zone.value],
  );
  const { from, to } = model.span.value;
  return (
    <>
      <div
        class="time-chart"
        ref={root}
        tabIndex={0}
        role="group"
        aria-label={`Rates of ${motor} over time. Values at the cursor are told below; the keys are explained under the chart.`}
      >
        {positions.map((position, i) => (
          <div class="rate-place" key={position}>
            <h2 class="rate-title">
              {namePosition(position)} <span class="quiet">pulses per minute of running</span>
            </h2>
            <div data-chart={i} aria-hidden="true" />
          </div>
        ))}
        <div class="lane-place">
          <LaneTitles />
          <canvas class="lanes" style={{ height: `${LANES_HEIGHT_PX}px` }} aria-hidden="true" />
        </div>
      </div>
      <div class="chart-foot">
        <label class="beside">
          <input
            type="checkbox"
            checked={isCompressed}
            onChange={(event) => setCompressed(event.currentTarget.checked)}
          />
          Compress high rates
        </label>
        <p class="quiet">Times in {nameZone(from, to, zone.value)}</p>
      </div>
    </>
  );
}
