/** What a rehearsal found: per alarm the activations that were, and those that would have been, on one time axis. */
import { zone } from '../data/clock.js';
import { formatExact, formatSpan, formatZone } from '../times.js';
import {
  orderOutcome,
  placeActivations,
  placeTicks,
  type Bar,
  type Outcome,
  type OutcomeAlarm,
} from './outcome-geometry.js';

const WIDTH = 720;
const ROW = 22;
const ALARMS_MOST = 60;
const ROW_NAMES = ['was', 'in force', 'candidate'];

function Bars({ bars, y, kind }: { bars: readonly Bar[] | null; y: number; kind: string }) {
  if (bars === null)
    return (
      <text class="outcome-none" x={4} y={y + 15}>
        not rehearsed
      </text>
    );
  return (
    <>
      <path class="outcome-line" d={`M0 ${y + ROW / 2}H${WIDTH}`} />
      {bars.map(({ x, width, isOpen }) => (
        <rect
          key={x}
          class={`outcome-bar outcome-${kind} ${isOpen ? 'is-open' : ''}`}
          x={x * WIDTH}
          y={y + 4}
          width={Math.max(3, width * WIDTH)}
          height={ROW - 8}
        />
      ))}
    </>
  );
}

function TimeAxis({ from, to }: { from: number; to: number }) {
  return (
    <svg class="outcome-axis" viewBox={`0 0 ${WIDTH} 50`} aria-hidden="true">
      {placeTicks(from, to, zone.value).map(({ at, lines, x: share }) => {
        const x = share * WIDTH;
        return (
          <g key={at}>
            <path d={`M${x} 0V8`} />
            {lines.map((line, i) => (
              <text
                key={line}
                x={x}
                y={24 + 18 * i}
                text-anchor={x < 30 ? 'start' : x > WIDTH - 30 ? 'end' : 'middle'}
              >
                {line}
              </text>
            ))}
          </g>
        );
      })}
    </svg>
  );
}

function describeTally(name: string, tally: OutcomeAlarm['candidate']): string {
  if (tally === null) return `${name}: not rehearsed`;
  return `${name}: raised ${tally.raised} times, stood ${formatSpan(tally.stood_ms)}`;
}

function AlarmRow({ alarm, from, to }: { alarm: OutcomeAlarm; from: number; to: number }) {
  const says = [
    describeTally('as it was', alarm.journal),
    describeTally('running configuration', alarm.running),
    describeTally('candidate', alarm.candidate),
  ];
  return (
    <li class={alarm.differs ? 'outcome-alarm differs' : 'outcome-alarm'}>
      <div class="outcome-words">
        <h3>
          {alarm.id} {alarm.differs && <span class="outcome-mark">differs</span>}
        </h3>
        <p>{alarm.conclusion}</p>
        {alarm.not_rehearsed !== '' && <p class="quiet">{alarm.not_rehearsed}</p>}
        {alarm.change !== null && (
          <ul class="plain">
            {alarm.change.settings.map(({ name, running, candidate }) => (
              <li key={name}>
                {name}: {running ?? 'not there'} → <strong>{candidate ?? 'not there'}</strong>
              </li>
            ))}
          </ul>
        )}
      </div>
      <div class="outcome-rows">
        <p class="outcome-names" aria-hidden="true">
          {ROW_NAMES.map((name) => (
            <span key={name}>{name}</span>
          ))}
        </p>
        <svg viewBox={`0 0 ${WIDTH} ${3 * ROW}`} role="img" aria-label={says.join('; ')}>
          <Bars bars={placeActivations(alarm.journal, from, to)} y={0} kind="was" />
          <Bars bars={placeActivations(alarm.running, from, to)} y={ROW} kind="ran" />
          <Bars bars={placeActivations(alarm.candidate, from, to)} y={2 * ROW} kind="would" />
        </svg>
      </div>
    </li>
  );
}

export function OutcomePicture({ outcome }: { outcome: Outcome }) {
  const [from, to] = [Date.parse(outcome.from), Date.parse(outcome.to)];
  const alarms = orderOutcome(outcome.alarms);
  return (
    <section class="outcome" aria-labelledby="outcome-title">
      <h2 id="outcome-title">What would have been raised</h2>
      <p>{outcome.conclusion}</p>
      {outcome.notes.map((note) => (
        <p key={note} class="quiet">
          {note}
        </p>
      ))}
      <p class="quiet">
        {formatExact(from, zone.value)} to {formatExact(to, zone.value)}, {zone.value} (
        {formatZone(to, zone.value)}). Filled: raised, as the journal has it. Pale, dashed: what the
        configuration in force raises when the same past is played. Outlined: what the candidate would have
        raised.
      </p>
      {alarms.length === 0 ? (
        <p>No alarm was raised or changed in this time, neither really nor by the candidate.</p>
      ) : (
        <>
          <ul class="plain outcome-list">
            {alarms.slice(0, ALARMS_MOST).map((alarm) => (
              <AlarmRow key={alarm.id} alarm={alarm} from={from} to={to} />
            ))}
            <li class="outcome-alarm" aria-hidden="true">
              <div />
              <TimeAxis from={from} to={to} />
            </li>
          </ul>
          {alarms.length > ALARMS_MOST && (
            <p>{alarms.length - ALARMS_MOST} more are in GET /api/v1/rehearsals.</p>
          )}
        </>
      )}
    </section>
  );
}
