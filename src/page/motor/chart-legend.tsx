/** What lines, fills and shapes of the time chart mean; and its keys. */
import { useEffect, useRef } from 'preact/hooks';
import { formatSpan } from '../times.js';
import type { ChartModel } from './chart-model.js';
import { drawSample, type Hatch } from '../charts/hatch.js';
import { onThemeChange, readInk } from '../charts/ink.js';
import { EXCLUDED_HATCH, SHAPES, STATE_HATCH } from '../charts/lane-canvas.js';

function Sample({ kind, children }: { kind: Hatch; children: string }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  useEffect(() => {
    const draw = (): void => {
      if (canvas.current !== null) drawSample(canvas.current, kind, readInk());
    };
    draw();
    return onThemeChange(draw);
  }, [kind]);
  return (
    <li>
      <canvas ref={canvas} width={26} height={16} aria-hidden="true" /> {children}
    </li>
  );
}

function LineSample({ dash, width, children }: { dash: string; width: number; children: string }) {
  return (
    <li>
      <svg width="34" height="12" aria-hidden="true">
        <line
          x1="0"
          y1="6"
          x2="34"
          y2="6"
          stroke="currentColor"
          stroke-width={width}
          stroke-dasharray={dash}
        />
      </svg>{' '}
      {children}
    </li>
  );
}

function BandSample({ opacity, children }: { opacity: number; children: string }) {
  return (
    <li>
      <svg width="34" height="14" aria-hidden="true">
        <rect class="band-sample" width="34" height="14" opacity={opacity} />
      </svg>{' '}
      {children}
    </li>
  );
}

function ShapeSample({
  kind,
  isHollow,
  children,
}: {
  kind: keyof typeof SHAPES;
  isHollow: boolean;
  children: string;
}) {
  const points = SHAPES[kind].map(([x, y]) => `${x + 10},${y + 10}`).join(' ');
  return (
    <li>
      <svg
        width="20"
        height="20"
        class={`shape shape-${kind} ${isHollow ? 'is-hollow' : ''}`}
        aria-hidden="true"
      >
        <polygon points={points} />
      </svg>{' '}
      {children}
    </li>
  );
}

const EXCLUDED_WORDS: Readonly<Record<keyof typeof EXCLUDED_HATCH, string>> = {
  background: 'background (standing)',
  transient: 'start or stop',
  common: 'common burst',
  unattributed: 'unattributed',
  check: 'function check',
  rejected: 'rejected',
};

function Keys() {
  return (
    <ul class="keys">
      <li>
        <kbd>←</kbd> <kbd>→</kbd> move the cursor, with <kbd>Ctrl</kbd> ten steps, with <kbd>Shift</kbd> the
        chart
      </li>
      <li>
        <kbd>+</kbd> <kbd>−</kbd> zoom, <kbd>Page up</kbd> <kbd>Page down</kbd> a whole span, <kbd>End</kbd>{' '}
        now
      </li>
      <li>
        <kbd>A</kbd> <kbd>B</kbd> set a mark at the cursor, <kbd>Esc</kbd> takes both away
      </li>
      <li>Wheel zooms, with Shift it moves; dragging over a stretch shows it; one finger moves, two zoom.</li>
    </ul>
  );
}

/** The lengths that a line and its band are drawn in; they change with the span. */
function sayLengths(model: ChartModel): { bucket: string; piece: string } {
  const series = model.loaded.value?.series[0];
  if (series === undefined) return { bucket: 'a bucket', piece: 'longer pieces' };
  return { bucket: formatSpan(series.bucket_ms), piece: formatSpan(series.limits.piece_ms) };
}

export function ChartLegend({ model }: { model: ChartModel }) {
  const { bucket, piece } = sayLengths(model);
  return (
    <details class="chart-legend">
      <summary>What the chart shows, and its keys</summary>
      <div class="legend-columns">
        <ul>
          <LineSample dash="" width={2.5}>
            {`mean rate over ${piece}`}
          </LineSample>
          <BandSample opacity={0.5}>95 % limits of that mean</BandSample>
          {piece !== bucket && (
            <LineSample dash="" width={1}>
              {`mean rate over ${bucket}`}
            </LineSample>
          )}
          <BandSample opacity={0.2}>{`lowest to highest inside ${bucket}`}</BandSample>
          <LineSample dash="2 4" width={1.5}>
            baseline for the conditions it ran in
          </LineSample>
          <LineSample dash="10 4 2 4" width={1.5}>
            alarm on the baseline
          </LineSample>
          <LineSample dash="8 5" width={1.5}>
            setpoint
          </LineSample>
          <li>A line that breaks: no running exposure. A line at 0: it ran, and counted nothing.</li>
        </ul>
        <ul>
          {(Object.keys(STATE_HATCH) as (keyof typeof STATE_HATCH)[]).map((state) => (
            <Sample key={state} kind={STATE_HATCH[state]}>
              {state === 'several' ? 'several states, too short to be told apart' : state}
            </Sample>
          ))}
        </ul>
        <ul>
          {(Object.keys(EXCLUDED_HATCH) as (keyof typeof EXCLUDED_HATCH)[]).map((kind) => (
            <Sample key={kind} kind={EXCLUDED_HATCH[kind]}>
              {`set aside: ${EXCLUDED_WORDS[kind]}`}
            </Sample>
          ))}
          <LineSample dash="" width={1.5}>
            speed
          </LineSample>
          <LineSample dash="5 4" width={1.5}>
            load, 0 to 100 %
          </LineSample>
        </ul>
        <ul>
          <ShapeSample kind="action" isHollow={false}>
            work done
          </ShapeSample>
          <ShapeSample kind="finding" isHollow={false}>
            finding of an inspection
          </ShapeSample>
          <ShapeSample kind="alarm" isHollow={false}>
            alarm raised
          </ShapeSample>
          <ShapeSample kind="alarm" isHollow={true}>
            alarm returned
          </ShapeSample>
        </ul>
        <Keys />
      </div>
    </details>
  );
}
