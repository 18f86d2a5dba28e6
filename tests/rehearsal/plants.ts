/** Small plants for rehearsals: their configuration, and the answer of a rehearsal over a store. */
import type { Plan } from '../../src/core/plan.js';
import type { AlarmOutcome, Rehearsal } from '../../src/rehearsal/outcome.js';
import { rehearse } from '../../src/rehearsal/rehearse.js';
import { openReader } from '../../src/store/reader.js';
import { planOfConfig } from '../support/stored-plant.js';

export const HOUR_MS = 3_600_000;
export const DAY_MS = 24 * HOUR_MS;
/** a Monday, midnight */
export const BEGIN = Date.UTC(2026, 2, 2);

export interface PlantWishes {
  readonly setpointPerMin?: number;
  readonly deadbandPerMin?: number;
  readonly onDelayMs?: number;
  /** more lines of the file */
  readonly more?: string;
  readonly motors?: string;
}

/** Pumps with a rate alarm; deviation alarms as they are by default. */
export function writePlant({
  setpointPerMin = 60,
  deadbandPerMin = 6,
  onDelayMs = 60_000,
  more = '',
  motors = 'pump-{1..2}',
}: PlantWishes = {}): string {
  return `
site: works
${more}
motors:
  ${motors}:
    positions: { de: {} }
    alarms:
      rate-high: { setpointPerMin: ${setpointPerMin}, deadbandPerMin: ${deadbandPerMin}, onDelayMs: ${onDelayMs}, rationale: Found in its first year. }
`;
}

export function planPlant(wishes: PlantWishes = {}): Plan {
  return planOfConfig(writePlant(wishes));
}

export function play(
  dataDir: string,
  running: Plan,
  candidate: Plan,
  range: { from: number | null; to: number | null } = { from: 0, to: null },
): Rehearsal {
  const reader = openReader(dataDir);
  try {
    const run = rehearse(reader, { running, candidate, ...range });
    for (let step = run.next(); ; step = run.next()) if (step.done === true) return step.value;
  } finally {
    reader.close();
  }
}

export function alarmOf(rehearsal: Rehearsal, id: string): AlarmOutcome {
  const found = rehearsal.alarms.find((alarm) => alarm.id === id);
  if (found === undefined) throw new Error(`there is no ${id}`);
  return found;
}
