/** What the motor did over the span, as vectors on the same width as the curves: running full, changing half, standing a line. */
import type { TimelineBody } from '../../../shared/charts.js';
import { useWidth } from '../charts/use-width.js';

const FIRST_WIDTH = 690;
const HEIGHT = 26;
/** As the curves have them, so that both stand under one another. */
const LEFT = 52;
const RIGHT = 10;
const BASE = HEIGHT - 4;

type Piece = TimelineBody['run_states'][number];

/** Share of the height: what part of the time it ran, where a piece is a sum. */
function heightOf({ state, ms }: Piece): number {
  if (ms !== null) {
    const whole = ms.running + ms.standing + ms.changing + ms.unknown;
    return whole === 0 ? 0 : ms.running / whole;
  }
  return state === 'running' ? 1 : state === 'starting' || state === 'stopping' ? 0.5 : 0;
}

/** Hours of the span by what the motor did. */
export function sumStates(timeline: TimelineBody): {
  running: number;
  standing: number;
  changing: number;
  unknown: number;
} {
  const sums = { running: 0, standing: 0, changing: 0, unknown: 0 };
  for (const { from, to, state, ms } of timeline.run_states) {
    if (ms !== null) {
      sums.running += ms.running;
      sums.standing += ms.standing;
      sums.changing += ms.changing;
      sums.unknown += ms.unknown;
      continue;
    }
    const length = Date.parse(to) - Date.parse(from);
    if (state === 'running') sums.running += length;
    else if (state === 'starting' || state === 'stopping') sums.changing += length;
    else if (state === 'stopped' || state === 'fault') sums.standing += length;
    else sums.unknown += length;
  }
  return sums;
}

export function RunStrip({
  timeline,
  from,
  to,
  title,
}: {
  timeline: TimelineBody;
  from: number;
  to: number;
  title: string;
}) {
  const [place, width] = useWidth(FIRST_WIDTH);
  const right = width - RIGHT;
  const xOf = (at: number): number =>
    LEFT + ((Math.min(to, Math.max(from, at)) - from) / (to - from)) * (right - LEFT);
  let ran = '';
  let unknown = '';
  for (const piece of timeline.run_states) {
    const [x0, x1] = [xOf(Date.parse(piece.from)).toFixed(1), xOf(Date.parse(piece.to)).toFixed(1)];
    const top = (BASE - heightOf(piece) * (BASE - 4)).toFixed(1);
    if (piece.state === 'unknown') unknown += `M${x0} ${BASE}H${x1}`;
    else if (heightOf(piece) > 0) ran += `M${x0} ${BASE}V${top}H${x1}V${BASE}Z`;
  }
  return (
    <div ref={place}>
      <svg class="report-strip" viewBox={`0 0 ${width} ${HEIGHT}`} role="img" aria-label={title}>
        <path class="report-strip-base" d={`M${LEFT} ${BASE}H${right}`} />
        <path class="report-strip-ran" d={ran} />
        <path class="report-strip-unknown" d={unknown} />
      </svg>
    </div>
  );
}
