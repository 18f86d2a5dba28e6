/** The plant as comparisons need it, from the running plan. */
import type { Fleet } from '../advice/fleet.js';
import type { Plan } from '../core/plan.js';

export function toFleet(plan: Plan): Fleet {
  const positions = new Map<string, string[]>();
  for (const { motor, position } of plan.sensors.values())
    positions.set(motor, [...(positions.get(motor) ?? []), position]);
  return [...plan.motors.values()].map(({ key, zone, dutyGroup }) => ({
    motor: key,
    zone,
    dutyGroup,
    positions: positions.get(key) ?? [],
    powerKw: plan.nameplates?.get(key)?.powerKw ?? null,
    frameMm: plan.nameplates?.get(key)?.frameMm ?? null,
  }));
}
