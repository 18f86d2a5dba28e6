/** The configuration that fits the load generator: motors m1 to mN, one sensor each. */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

export interface PlantWishes {
  readonly site: string;
  readonly motors: number;
  /** time between two readings of a sensor */
  readonly intervalMs: number;
  /** true: motors run throughout and nothing is waited for, so that rollups close with the readings; absent: as on a site */
  readonly closesAtOnce?: boolean;
  /** further sections of the configuration, as text */
  readonly sections?: readonly string[];
}

/** Motors that hear the same interference, as a real site has them. */
const HALL_MOTORS = 25;

function listHalls(motors: number): string[] {
  const lines: string[] = [];
  for (let from = 1; from <= motors; from += HALL_MOTORS) {
    const to = Math.min(motors, from + HALL_MOTORS - 1);
    lines.push(`  m{${from}..${to}}: { template: motor, zone: hall-${lines.length + 1} }`);
  }
  return lines;
}

/**
 * Every condition alarm that a flood of readings would raise at once stays on: a bench with parts switched off measures
 * nothing. The plausible rate is wide, because readings less than a millisecond apart look very fast.
 */
export function writePlantFile(folder: string, wishes: PlantWishes): string {
  const file = join(folder, 'bench.yaml');
  const text = `site: ${wishes.site}
mqtt:
  clientsMax: 20000
templates:
  motor:${wishes.closesAtOnce === true ? '\n    drive: { runState: none }' : ''}
    positions:
      de: { intervalMs: ${wishes.intervalMs}, counterBits: 53, maxRatePerS: 10000000${wishes.closesAtOnce === true ? ', reorderWaitMs: 0' : ''} }
    alarms:
      rate-high:
        setpointPerMin: 9000000
        rationale: Never reached; it is there to be evaluated.
motors:
${listHalls(wishes.motors).join('\n')}
${(wishes.sections ?? []).map((section) => `${section}\n`).join('')}`;
  mkdirSync(folder, { recursive: true });
  writeFileSync(file, text);
  return file;
}
