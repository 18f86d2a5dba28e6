/** Deviation alarms of a motor, defaults filled in, and their plans with each one's share of the false-alarm budget. */
import type { DeviationAlarmPlan } from '../core/plan.js';
import { fillAttributes } from './attribute-schema.js';
import type { Config, DeviationAlarmConfig, MotorConfig, PositionConfig } from './config.js';
import { DEFAULT_DEVIATION_ALARM, DEVIATION_ALARM_KINDS } from './deviation-defaults.js';
import type { DeviationFragment } from './deviation-schema.js';
import type { MergedEntry } from './merge.js';
import type { Report } from './report.js';

export function buildDeviationAlarms(
  entry: MergedEntry,
  positions: readonly PositionConfig[],
  report: Report,
): DeviationAlarmConfig[] {
  return DEVIATION_ALARM_KINDS.flatMap((kind) => {
    const written = entry.fragment.alarms?.[kind];
    if (written === false) return [];
    const own: DeviationFragment = written ?? {};
    const fitted = positions.map(({ position }) => position);
    for (const position of own.positions ?? []) {
      if (fitted.includes(position)) continue;
      report.error(
        entry.where(['alarms', kind, 'positions']),
        `positions of the motor (${fitted.join(', ')})`,
        `"${position}"`,
      );
    }
    const defaults = DEFAULT_DEVIATION_ALARM[kind];
    return [
      {
        kind,
        factor: own.factor ?? defaults.factor,
        setpointPerMin: own.setpointPerMin ?? null,
        deadbandShare: own.deadbandShare ?? defaults.deadbandShare,
        onDelayMs: own.onDelayMs ?? defaults.onDelayMs,
        offDelayMs: own.offDelayMs ?? defaults.offDelayMs,
        windowMs: own.windowMs ?? defaults.windowMs,
        ...fillAttributes(own, defaults),
        positions: [...new Set(own.positions ?? fitted)],
      },
    ];
  });
}

/** How many alarms of these kinds the motors have, one per sensor. */
export function countDeviationAlarms(motors: readonly MotorConfig[]): number {
  return motors.reduce(
    (sum, motor) => sum + motor.deviationAlarms.reduce((own, alarm) => own + alarm.positions.length, 0),
    0,
  );
}

/** `shareEach`: false alarms a month that one alarm may raise. */
export function planDeviationAlarms(config: Config, shareEach: number): DeviationAlarmPlan[] {
  return config.motors.flatMap((motor) =>
    motor.deviationAlarms.flatMap(({ positions, ...settings }) =>
      positions.map((position) => {
        const alarm = `${position}-${settings.kind}`;
        return {
          ...settings,
          id: `${motor.key}.${alarm}`,
          motor: motor.key,
          alarm,
          sensor: `${motor.key}/${position}`,
          falseAlarmsPerMonth: shareEach,
        };
      }),
    ),
  );
}
