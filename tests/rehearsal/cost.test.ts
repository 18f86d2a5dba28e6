/** What a rehearsal costs: a month of twenty sensors, from minutes alone. Processor time, because the machine may be busy. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { writeMinuteStore } from '../support/minute-store.js';
import { alarmOf, BEGIN, HOUR_MS, planPlant, play } from './plants.js';

const MOTORS = 20;
const DAYS = 31;
const BOUND_S = 60;
const dir = mkdtempSync(join(tmpdir(), 'rehearsal-'));
afterAll(() => rmSync(dir, { recursive: true, force: true }));
const motors = `pump-{1..${MOTORS}}`;

/** Six hours of each day it stands; pump-4 discharges four times as often for 60 hours of every 300. */
function rateOf(motor: number) {
  return (minute: number): number | null => {
    const hour = Math.floor((minute - BEGIN) / HOUR_MS) + 3 * motor;
    if (hour % 24 < 6) return null;
    return 40 * (1 + 0.03 * motor) * (motor === 3 && hour % 300 > 240 ? 4 : 1);
  };
}

beforeAll(
  () =>
    writeMinuteStore(dir, {
      sensors: Array.from({ length: MOTORS }, (_, i) => ({ sensor: `pump-${i + 1}/de`, at: rateOf(i) })),
      ...{ from: BEGIN, hours: DAYS * 24, seed: 1 },
    }),
  180_000,
);

it(`a month of ${MOTORS} sensors takes less than ${BOUND_S} s`, () => {
  const running = planPlant({ motors, setpointPerMin: 90 });
  const before = process.cpuUsage();
  const found = play(dir, running, planPlant({ motors, setpointPerMin: 150 }));
  const { user, system } = process.cpuUsage(before);
  expect(alarmOf(found, 'pump-4.de-rate-high')).toMatchObject({ differs: true, running: { raised: 2 } });
  expect(found.alarms.filter(({ differs }) => differs).length).toBe(1);
  expect((user + system) / 1e6).toBeLessThan(BOUND_S);
});
