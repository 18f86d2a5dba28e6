/** How often a fleet in which nothing happens raises deviation alarms all the same. */
import { openStream } from '../../simulator/random.js';
import { openFleet, runHour } from './feed.js';
import { drawFleet } from './fleet.js';

export interface HealthyResult {
  motorYears: number;
  /** false alarms by kind */
  alarms: Record<string, number>;
  total: number;
  perMotorYear: number;
  /** motors with a learnt baseline at the end */
  learnt: number;
  motors: number;
  budgetPerMonth: number;
  /** false alarms of deviation kinds over what the budget allowed in that time */
  ofBudget: number;
}

export interface HealthyWish {
  readonly fleets: number;
  readonly motors: number;
  readonly days: number;
  /** false alarms a month over one fleet */
  readonly budgetPerMonth: number;
}

export function scoreHealthy(
  seed: number,
  { fleets, motors, days, budgetPerMonth }: HealthyWish,
): HealthyResult {
  const alarms: Record<string, number> = {};
  let learnt = 0;
  for (let f = 0; f < fleets; f++) {
    const wishes = drawFleet(seed, `healthy-${f}`, { motors, rate: [0.01, 3], dispersion: [1, 20] });
    const fleet = openFleet((name) => openStream(seed, 'healthy', String(f), name), wishes, budgetPerMonth);
    for (let hour = 0; hour < days * 24; hour++) runHour(fleet);
    for (const { kind } of fleet.raised) alarms[kind] = (alarms[kind] ?? 0) + 1;
    learnt += fleet.lives.filter(({ sensor }) => sensor.watch.baseline.yardsticks.size > 0).length;
  }
  const motorYears = (fleets * motors * days) / 365;
  const total = Object.values(alarms).reduce((sum, n) => sum + n, 0);
  const allowed = (budgetPerMonth * fleets * days) / 30;
  return {
    ...{ motorYears, alarms, total, perMotorYear: total / motorYears, learnt, motors: fleets * motors },
    ...{ budgetPerMonth, ofBudget: total / allowed },
  };
}
