/** A sensor or a motor named on the command line must be one of the configuration. */
import type { Plan } from '../core/plan.js';
import { UsageError } from './command.js';
import { findNearestWord } from './nearest-word.js';

/** Throws `UsageError`. */
export function checkSensor(plan: Plan, sensor: string): void {
  checkName(sensor, 'sensor', [...plan.sensors.keys()]);
}

/** Throws `UsageError`. */
export function checkMotor(plan: Plan, motor: string): void {
  checkName(motor, 'motor', [...plan.motors.keys()]);
}

function checkName(name: string, what: string, known: readonly string[]): void {
  if (known.includes(name)) return;
  const meant = findNearestWord(name, known);
  throw new UsageError(
    `The configuration has no ${what} ${name}.`,
    meant === null ? 'Check the name.' : `Did you mean ${meant}?`,
  );
}
