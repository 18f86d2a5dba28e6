/** The wall view: what needs an answer and every motor, readable from afar. Nothing on it can be pressed. */
import { computed } from '@preact/signals';
import type { AlarmBody, MotorBody, SensorBody } from '../data/bodies.js';
import { now, zone } from '../data/clock.js';
import { heardUntil, link } from '../data/live-link.js';
import { floodSince, motorKeys, motorOf, motorsByZone, openAlarms, rateOf, site } from '../data/plant.js';
import { isShown, isWaiting, nameAlarm, namePlace, orderAlarms } from '../parts/alarm-words.js';
import { stripOf, stripsTop, useDayStrips } from '../parts/day-strips.js';
import { PriorityMark } from '../parts/priority-mark.js';
import { RunSign } from '../parts/run-state.js';
import { StateSince } from '../parts/state-since.js';
import { isSilent, SensorValue } from '../parts/sensor-value.js';
import { StripPicture } from '../parts/strip-picture.js';
import { LinkState } from '../shell/status-bar.js';
import { formatClock, formatDay, formatZone } from '../times.js';
import { useFit } from './use-fit.js';
import './kiosk.css';

/** What fits a wall; the rest is counted. */
const ALARMS_MOST = 6;

const shown = computed(() =>
  orderAlarms(
    [...(openAlarms.value?.values() ?? [])].filter((alarm) => isShown(alarm) && alarm.grouped_under === null),
  ),
);
const worstOf = computed(() => {
  const worst = new Map<string, AlarmBody>();
  for (const alarm of orderAlarms([...(openAlarms.value?.values() ?? [])].filter(isShown)))
    if (!worst.has(alarm.motor)) worst.set(alarm.motor, alarm);
  return worst;
});

function Head() {
  const waiting = shown.value.filter(isWaiting).length;
  return (
    <header class={`kiosk-head ${link.value.state === 'lost' ? 'is-lost' : ''}`}>
      <h1>{site.value}</h1>
      <p class="kiosk-count">{waiting === 0 ? 'Nothing needs an answer' : `Needs an answer: ${waiting}`}</p>
      <LinkState />
      <p class="kiosk-clock">
        {formatDay(now.value, zone.value)} <strong>{formatClock(now.value, zone.value)}</strong>{' '}
        {formatZone(now.value, zone.value)}
      </p>
    </header>
  );
}

function AlarmLine({ alarm }: { alarm: AlarmBody }) {
  return (
    <li class={`kiosk-alarm of-${alarm.priority}`} data-alarm={alarm.id}>
      <PriorityMark priority={alarm.priority} isFilled={isWaiting(alarm)} />
      <span class="kiosk-what">
        <strong>{namePlace(alarm)}</strong> {nameAlarm(alarm)}
      </span>
      <span>
        <StateSince alarm={alarm} />
      </span>
    </li>
  );
}

function SensorLine({ sensor, motor }: { sensor: SensorBody; motor: MotorBody }) {
  return (
    <div class="kiosk-sensor">
      <span>{sensor.position.toUpperCase()}</span>
      <StripPicture strip={stripOf(sensor.sensor).value} top={stripsTop.value} zone={zone.value} />
      <SensorValue sensor={sensor} rate={rateOf(sensor.sensor).value} motor={motor} />
    </div>
  );
}

function MotorCell({ name }: { name: string }) {
  const motor = motorOf(name).value;
  if (motor === null) return null;
  const alarm = worstOf.value.get(motor.motor);
  const isUnknown = motor.has_run_state && motor.run_state === 'unknown';
  const at = heardUntil.value ?? now.value;
  const isOdd =
    alarm !== undefined ||
    isUnknown ||
    motor.run_state === 'fault' ||
    motor.sensors.some((sensor) => isSilent(sensor, rateOf(sensor.sensor).value, at));
  return (
    <li
      class={`kiosk-motor ${alarm === undefined ? '' : `of-${alarm.priority}`} ${isOdd ? 'is-odd' : ''}`}
      data-motor={motor.motor}
    >
      <p class="kiosk-motor-head">
        <strong>{motor.motor}</strong>
        <span class={isUnknown ? 'is-stale' : ''}>
          <RunSign state={motor.has_run_state ? motor.run_state : 'running'} />{' '}
          {motor.has_run_state ? motor.run_state : 'taken as running'}
        </span>
        {alarm !== undefined && <PriorityMark priority={alarm.priority} isFilled={isWaiting(alarm)} />}
      </p>
      {motor.sensors.map((sensor) => (
        <SensorLine key={sensor.sensor} sensor={sensor} motor={motor} />
      ))}
    </li>
  );
}

export function KioskScreen() {
  useDayStrips();
  const place = useFit('.kiosk-motor', '.kiosk-left strong');
  const motors = (motorKeys.value ?? []).length;
  return (
    <main class="kiosk" ref={place}>
      <Head />
      {floodSince.value !== null && (
        <p class="kiosk-flood">Alarms come faster than one person can answer them</p>
      )}
      <ul class="kiosk-alarms" aria-label="Alarms">
        {shown.value.slice(0, ALARMS_MOST).map((alarm) => (
          <AlarmLine key={alarm.id} alarm={alarm} />
        ))}
      </ul>
      {shown.value.length > ALARMS_MOST && (
        <p class="kiosk-more">and {shown.value.length - ALARMS_MOST} more</p>
      )}
      <div class="kiosk-zones">
        {[...motorsByZone.value].map(([name, keys]) => (
          <section key={name} aria-label={name}>
            <h2>{name}</h2>
            <ul class="kiosk-motors">
              {keys.map((key) => (
                <MotorCell key={key} name={key} />
              ))}
            </ul>
          </section>
        ))}
      </div>
      <p class="kiosk-rest">
        Of {motors} motors only those are shown that have an alarm, a fault, a silent sensor or an unknown run
        state.
      </p>
      <p class="kiosk-left">
        This screen has no room for <strong /> of the motors.
      </p>
    </main>
  );
}
