/** Who is on the plant, as far as comparisons need it: plain data that may cross to the reading thread. */

export interface FleetMotor {
  readonly motor: string;
  readonly zone: string;
  readonly dutyGroup: string;
  readonly positions: readonly string[];
  /** rated power; null: not configured */
  readonly powerKw: number | null;
  /** shaft height; null: not configured */
  readonly frameMm: number | null;
}

export type Fleet = readonly FleetMotor[];

/** The sensors at the same position of the other motors of the duty group, in the order of the fleet. */
export function findSisters(fleet: Fleet, sensor: string): string[] {
  const [motor = '', position = ''] = sensor.split('/');
  const own = fleet.find((each) => each.motor === motor);
  if (own === undefined) return [];
  return fleet
    .filter(
      (each) => each.motor !== motor && each.dutyGroup === own.dutyGroup && each.positions.includes(position),
    )
    .map((each) => `${each.motor}/${position}`);
}

/** Groups of sensors at the same position of motors of one duty group. */
export function listGroups(fleet: Fleet): string[][] {
  const groups = new Map<string, string[]>();
  for (const { motor, dutyGroup, positions } of fleet) {
    for (const position of positions) {
      const key = `${dutyGroup} ${position}`;
      groups.set(key, [...(groups.get(key) ?? []), `${motor}/${position}`]);
    }
  }
  return [...groups.values()];
}

/** `de` -> `DE`, as the trade writes the two ends; another place as it is. */
export function namePosition(position: string): string {
  return position === 'de' || position === 'nde' ? position.toUpperCase() : position;
}

/** `booster-4/de` -> `booster-4 DE` */
export function nameSensor(sensor: string): string {
  const [motor = '', position = ''] = sensor.split('/');
  return `${motor} ${namePosition(position)}`;
}
