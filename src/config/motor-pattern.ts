/** A configuration told shortly: motors that one line of the file stands for are told once. */
import type { MotorConfig } from './config.js';

/** Motors of one line of the file, alike but for their names. */
export interface MotorPattern {
  readonly pattern: string;
  readonly first: MotorConfig;
  readonly count: number;
}

/** In the order of the file. */
export function groupByPattern(motors: readonly MotorConfig[]): MotorPattern[] {
  const rows = new Map<string, MotorPattern>();
  for (const motor of motors) {
    const row = rows.get(motor.pattern);
    rows.set(motor.pattern, {
      pattern: motor.pattern,
      first: row?.first ?? motor,
      count: (row?.count ?? 0) + 1,
    });
  }
  return [...rows.values()];
}
