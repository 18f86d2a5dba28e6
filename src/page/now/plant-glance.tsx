/** The plant at a glance: one tile for each motor, area by area, with run state and the last day of both ends. */
import { computed } from '@preact/signals';
import { motorKeys, motorOf, motorsByZone, openAlarms, rateOf } from '../data/plant.js';
import type { AlarmBody, MotorBody, SensorBody } from '../data/bodies.js';
import { zone } from '../data/clock.js';
import { isShown, isWaiting, namePosition, orderAlarms } from '../parts/alarm-words.js';
import { stripOf, stripsProblem, stripsTop, useDayStrips } from '../parts/day-strips.js';
import { PriorityMark } from '../parts/priority-mark.js';
import { ProblemNote } from '../parts/problem-note.js';
import { RunState } from '../parts/run-state.js';
import { heardAt, SensorValue } from '../parts/sensor-value.js';
import { StripPicture } from '../parts/strip-picture.js';
import { formatRate } from '../times.js';

/** The most urgent alarm shown of each motor. */
const worstOf = computed(() => {
  const worst = new Map<string, AlarmBody>();
  for (const alarm of orderAlarms([...(openAlarms.value?.values() ?? [])].filter(isShown)))
    if (!worst.has(alarm.motor)) worst.set(alarm.motor, alarm);
  return worst;
});

const MANY = 60;

function SensorRow({ sensor, motor }: { sensor: SensorBody; motor: MotorBody }) {
  return (
    <div class="tile-sensor">
      <span class="tile-position" title={namePosition(sensor.position)}>
        {sensor.position.toUpperCase()}
      </span>
      <StripPicture strip={stripOf(sensor.sensor).value} top={stripsTop.value} zone={zone.value} />
      <SensorValue sensor={sensor} rate={rateOf(sensor.sensor).value} motor={motor} />
    </div>
  );
}

function MotorTile({ name }: { name: string }) {
  const motor = motorOf(name).value;
  if (motor === null) return null;
  const alarm = worstOf.value.get(name);
  return (
    <li class={`tile ${alarm === undefined ? '' : `of-${alarm.priority}`}`} data-motor={name}>
      <div class="tile-head">
        <a href={`/motor/${name}`}>{name}</a>
        {alarm !== undefined && <PriorityMark priority={alarm.priority} isFilled={isWaiting(alarm)} />}
        <RunState motor={motor} />
      </div>
      {motor.sensors.map((sensor) => (
        <SensorRow key={sensor.sensor} sensor={sensor} motor={motor} />
      ))}
    </li>
  );
}

/** Of a plant that has just been configured: what is missing, and where it is found. */
function NothingHeard() {
  const sensors = (motorKeys.value ?? []).flatMap((key) => motorOf(key).value?.sensors ?? []);
  if (sensors.some((sensor) => heardAt(sensor, rateOf(sensor.sensor).value) !== null)) return null;
  return (
    <p class="todo">
      No sensor has been heard yet, so nothing can be raised.{' '}
      <a href="/wiring">Wiring shows what each of them lacks</a>.
    </p>
  );
}

function Legend() {
  return (
    <p class="glance-legend quiet">
      Last 24 h, now at the right, a line each 6 h. Bars: pulses a minute while running, each step up is a
      factor (full height {formatRate(stripsTop.value)}). Thin line: stood. Dots: run state unknown. Slanted:
      sensor silent. A count is not a severity, and none is known to be safe.
    </p>
  );
}

export function PlantGlance() {
  useDayStrips();
  if (motorKeys.value === null) return null;
  const zones = [...motorsByZone.value];
  return (
    <section class="glance" aria-labelledby="glance-title">
      <h2 id="glance-title">The plant at a glance</h2>
      <NothingHeard />
      {stripsProblem.value !== null && <ProblemNote problem={stripsProblem.value} />}
      {zones.map(([name, motors]) => (
        <section key={name} aria-label={name}>
          <h3 class="glance-zone">
            {name} <span class="quiet">{motors.length === 1 ? '1 motor' : `${motors.length} motors`}</span>
          </h3>
          <ul class={`tiles ${motors.length > MANY ? 'is-many' : ''}`}>
            {motors.map((motor) => (
              <MotorTile key={motor} name={motor} />
            ))}
          </ul>
        </section>
      ))}
      <Legend />
    </section>
  );
}
