/**
 * Notices: what a reliability engineer should know and no operator need answer. Here: a gate that eats more of a motor's
 * running time than it leaves.
 */
import { enter } from './journal.js';
import { floorTo, type CoreState, type SensorState } from './state.js';
import { Class, CLASS_NAMES } from './words.js';

const DAY_MS = 86_400_000;
/** Shorter days say nothing. */
const LEAST_MS = 3_600_000;

/** Adds a closed hour to the sensor's day (UTC); at the end of the day says when less than half of it survived the gate. */
export function closeHour(state: CoreState, sensor: SensorState, hour: number, ms: readonly number[]): void {
  const start = floorTo(hour, DAY_MS);
  if (sensor.day.start !== start) {
    judgeDay(state, sensor);
    sensor.day = { start, ms: [0, 0, 0, 0, 0, 0, 0, 0, 0] };
  }
  for (let cls = 0; cls < ms.length; cls++) sensor.day.ms[cls]! += ms[cls]!;
}

function judgeDay(state: CoreState, sensor: SensorState): void {
  const { start, ms } = sensor.day;
  const running = ms[Class.running]!;
  let eaten = 0;
  let eater: Class = Class.unattributed;
  for (const cls of [
    Class.rejected,
    Class.check,
    Class.unattributed,
    Class.transient,
    Class.common,
  ] as const) {
    eaten += ms[cls]!;
    if (ms[cls]! > ms[eater]!) eater = cls;
  }
  if (running + eaten < LEAST_MS || running >= eaten) return;
  const share = Math.round((100 * running) / (running + eaten));
  enter(state, {
    at: start + DAY_MS,
    kind: 'notice',
    subject: sensor.key,
    to: 'gate-starved',
    text: `only ${share} % of the day's running time is left to count in; most of the rest is ${CLASS_NAMES[eater]}`,
  });
}
