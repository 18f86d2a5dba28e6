/** The evidence of an alarm drawn: the rate with its limits beside the setpoint, the run states of that time, the figures. */
import { zone } from '../data/clock.js';
import type { Evidence } from '../data/bodies.js';
import { formatCount, formatExact, formatRate, formatSpan } from '../times.js';
import { makeScale, placeRunStates, type Scale } from './evidence-geometry.js';

const WIDTH = 640;
/** room for half of the words at either end of the axis */
const LEFT = 26;
const SPAN = WIDTH - 2 * LEFT;
const HEIGHT = 110;
const ROW = 52;

function Ticks({ scale }: { scale: Scale }) {
  return (
    <g class="evidence-ticks">
      {scale.ticks.map((tick) => {
        const x = LEFT + SPAN * scale.place(tick);
        return (
          <g key={tick}>
            <path d={`M${x} 84V90`} />
            <text x={x} y={106} text-anchor="middle">
              {formatRate(tick)}
            </text>
          </g>
        );
      })}
      <path d={`M${LEFT} 84H${LEFT + SPAN}`} />
    </g>
  );
}

/** Words stay inside the picture: at its right end they stand to the left of what they name. */
function anchorOf(x: number): { 'text-anchor': 'start' | 'end'; x: number } {
  return x > WIDTH * 0.7 ? { 'text-anchor': 'end', x: x - 6 } : { 'text-anchor': 'start', x: x + 6 };
}

function Comparison({ evidence, scale }: { evidence: Evidence; scale: Scale }) {
  const {
    rate_per_min: rate,
    lower_per_min: lower,
    upper_per_min: upper,
    setpoint_per_min: setpoint,
  } = evidence;
  const at = (value: number): number => LEFT + SPAN * scale.place(value);
  const back =
    setpoint === null || evidence.deadband_per_min === null ? null : setpoint - evidence.deadband_per_min;
  return (
    <>
      {setpoint !== null && back !== null && (
        <rect
          class="evidence-deadband"
          x={at(back)}
          y={20}
          width={Math.max(0, at(setpoint) - at(back))}
          height={64}
        />
      )}
      {setpoint !== null && (
        <>
          <path class="evidence-setpoint" d={`M${at(setpoint)} 16V84`} />
          <text {...anchorOf(at(setpoint))} y={14}>
            setpoint {formatRate(setpoint)}
          </text>
        </>
      )}
      {lower !== null && upper !== null && (
        <path
          class="evidence-limits"
          d={`M${at(lower)} ${ROW}H${at(upper)}M${at(lower)} ${ROW - 9}V${ROW + 9}M${at(upper)} ${ROW - 9}V${ROW + 9}`}
        />
      )}
      {rate !== null && (
        <>
          <circle class="evidence-rate" cx={at(rate)} cy={ROW} r={7} />
          <text {...anchorOf(at(rate))} y={ROW - 14}>
            {formatRate(rate)}
          </text>
        </>
      )}
    </>
  );
}

function RunStrip({ evidence }: { evidence: Evidence }) {
  const parts = placeRunStates(evidence);
  if (parts.length === 0) return null;
  return (
    <figure class="evidence-strip">
      <figcaption>
        Run states from {formatExact(Date.parse(evidence.from), zone.value)} to{' '}
        {formatExact(Date.parse(evidence.to), zone.value)}:{' '}
        {[...new Set(parts.map(({ state }) => state))].join(', ')}
      </figcaption>
      <svg viewBox={`0 0 ${WIDTH} 26`} preserveAspectRatio="none" aria-hidden="true">
        {parts.map(({ x, width, state }) => (
          <rect
            key={x}
            class={`strip-of strip-of-${state}`}
            x={x * WIDTH}
            y={2}
            width={Math.max(1, width * WIDTH)}
            height={22}
          />
        ))}
      </svg>
    </figure>
  );
}

function Figures({ evidence }: { evidence: Evidence }) {
  const { confidence, dispersion } = evidence;
  const rows: [string, string][] = [
    ['Pulses while running', formatCount(evidence.pulses)],
    ['Running time counted', formatSpan(evidence.exposure_ms)],
    ['Rate', `${formatRate(evidence.rate_per_min)} a minute`],
    [
      confidence === null
        ? 'Limits'
        : `Limits, ${(100 * confidence).toFixed(confidence > 0.995 ? 3 : 1)} % two-sided`,
      `${formatRate(evidence.lower_per_min)} to ${formatRate(evidence.upper_per_min)}`,
    ],
    [
      'Burstier than chance by',
      dispersion === null ? 'nothing was compared' : `${dispersion.toFixed(1)} times`,
    ],
    [
      'Setpoint',
      evidence.setpoint_per_min === null ? 'none' : `${formatRate(evidence.setpoint_per_min)} a minute`,
    ],
    [
      'Deadband',
      evidence.deadband_per_min === null ? 'none' : `${formatRate(evidence.deadband_per_min)} a minute`,
    ],
    ['Delays', `on ${formatSpan(evidence.on_delay_ms)}, off ${formatSpan(evidence.off_delay_ms)} of running`],
    ['Configuration', evidence.configuration],
  ];
  return (
    <dl class="facts">
      {rows.map(([name, text]) => (
        <div key={name}>
          <dt>{name}</dt>
          <dd>{text}</dd>
        </div>
      ))}
    </dl>
  );
}

export function EvidencePart({ evidence }: { evidence: Evidence }) {
  const scale = makeScale(evidence);
  return (
    <section class="evidence panel" aria-labelledby="evidence-title">
      <h2 id="evidence-title">What it was decided on</h2>
      <p>{evidence.says}</p>
      {scale !== null && (
        <figure>
          <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} role="img" aria-label={evidence.says}>
            <Ticks scale={scale} />
            <Comparison evidence={evidence} scale={scale} />
          </svg>
          <figcaption class="quiet">
            Pulses a minute. Dot: the rate. Bar: its limits. Dashed line: the setpoint; shaded: the deadband
            below it.
          </figcaption>
        </figure>
      )}
      <RunStrip evidence={evidence} />
      <Figures evidence={evidence} />
      <p class="quiet">
        A count is evidence, not a diagnosis: no number of discharges is known to be safe, and none to be
        harmless.
      </p>
    </section>
  );
}
