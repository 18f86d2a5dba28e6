/**
 * The plant as signals: motors, rates and open alarms, first loaded, then kept up to date by the live stream. A component
 * that reads one motor or one sensor is redrawn when that one changes, and by nothing else.
 */
import { batch, computed, signal, type Signal } from '@preact/signals';
import type {
  AlarmBody,
  AlarmsBody,
  DriveEvent,
  MotorBody,
  MotorsBody,
  RateBody,
  TransientBody,
} from './bodies.js';

export const site = signal('');
/** keys of the motors, in the order of the configuration; null: not loaded yet */
export const motorKeys = signal<readonly string[] | null>(null);
/** every alarm that is not normal, by id; null: not loaded yet */
export const openAlarms = signal<ReadonlyMap<string, AlarmBody> | null>(null);
/** since when alarms flood; null: they do not */
export const floodSince = signal<string | null>(null);
/** why the alarms of the store are not among them; null: they are */
export const missingAlarms = signal<string | null>(null);

const motors = new Map<string, Signal<MotorBody | null>>();
const rates = new Map<string, Signal<RateBody | null>>();

function cellOf<T>(cells: Map<string, Signal<T | null>>, key: string): Signal<T | null> {
  let cell = cells.get(key);
  if (cell === undefined) {
    cell = signal<T | null>(null);
    cells.set(key, cell);
  }
  return cell;
}

/** The last known of a motor; null: there is none of that name. Its sensors' `rate` is that of the load: see `rateOf`. */
export function motorOf(key: string): Signal<MotorBody | null> {
  return cellOf(motors, key);
}

/** The newest rate of a sensor (`<motor>/<position>`); null: none issued since the gateway started. */
export function rateOf(sensor: string): Signal<RateBody | null> {
  return cellOf(rates, sensor);
}

/** Motors by zone, zones and motors in the order of the configuration. A motor that changes otherwise redraws no list of them. */
export const motorsByZone = computed(() => {
  const zones = new Map<string, string[]>();
  for (const key of motorKeys.value ?? []) {
    const zone = motorOf(key).peek()?.zone ?? '';
    const list = zones.get(zone) ?? [];
    list.push(key);
    zones.set(zone, list);
  }
  return zones;
});

export function takeMotors(body: MotorsBody): void {
  batch(() => {
    site.value = body.site;
    const keys = body.motors.map(({ motor }) => motor);
    const known = new Set(keys);
    for (const [key, cell] of motors) if (!known.has(key)) cell.value = null;
    for (const motor of body.motors) {
      motorOf(motor.motor).value = motor;
      for (const sensor of motor.sensors) {
        if (sensor.rate !== null) takeRate(sensor.rate);
      }
    }
    // last, and only when it changed: whoever lists motors finds them all
    if (motorKeys.value?.join() !== keys.join()) motorKeys.value = keys;
  });
}

export function takeAlarms(body: AlarmsBody): void {
  batch(() => {
    openAlarms.value = new Map(
      body.alarms.filter(({ state }) => state !== 'normal').map((alarm) => [alarm.id, alarm]),
    );
    floodSince.value = body.flood?.since ?? null;
    missingAlarms.value = body.missing;
  });
}

/** A rate that is older than the one known is let go. */
export function takeRate(rate: RateBody): void {
  const cell = rateOf(rate.sensor);
  if (cell.value !== null && cell.value.window.start > rate.window.start) return;
  cell.value = rate;
}

export function takeAlarm(alarm: AlarmBody): void {
  const next = new Map(openAlarms.value ?? []);
  if (alarm.state === 'normal') next.delete(alarm.id);
  else next.set(alarm.id, alarm);
  openAlarms.value = next;
}

export function takeDrive(drive: DriveEvent): void {
  const cell = motorOf(drive.motor);
  const motor = cell.value;
  if (motor === null || (motor.last_message_at !== null && motor.last_message_at > drive.at)) return;
  cell.value = {
    ...motor,
    ...{
      run_state: drive.state,
      modulating: drive.modulating,
      since: drive.since,
      last_message_at: drive.at,
    },
  };
}

export function takeTransient(transient: TransientBody): void {
  const cell = motorOf(transient.motor);
  if (cell.value === null) return;
  const last = cell.value.last_transient;
  if (last !== null && last.from > transient.from) return;
  cell.value = { ...cell.value, last_transient: transient };
}
