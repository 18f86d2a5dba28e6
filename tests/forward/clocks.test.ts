/** The machine's clock is put back and forth by hours: nothing waits for it, and nothing is given up because of it. */
import { afterEach, expect, it, test } from 'vitest';
import { AgeClock } from '../../src/forward/age-clock.js';
import { ForwardRig, settingsOf } from './forward-rig.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const SENSORS = ['pump-1/de', 'pump-1/nde', 'fan-a/de'];

let rig: ForwardRig;
afterEach(() => rig.close());

const sumOf = (column: 'delivered' | 'expired' | 'pending'): number =>
  rig.forwarder.ledger('plant').lines.reduce((sum, line) => sum + line[column], 0);

const STEPS = [
  ['back', -5 * HOUR_MS],
  ['forth', 5 * HOUR_MS],
] as const;

it.each(STEPS)(
  'put %s, a lane that waits after a failure tries again when it would have',
  async (_, step) => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant')]);
    rig.receiver('plant').isDead = true;
    rig.closeMinute();
    await rig.clock.pass(2_000, 500);
    expect(rig.forwarder.status()[0]!.state).toBe('failing');
    rig.clock.setWall(rig.clock.now() + step);
    rig.receiver('plant').isDead = false;
    await rig.clock.pass(12_000, 500);
    expect(rig.forwarder.status()[0]!.state).toBe('live');
    expect(sumOf('delivered')).toBe(3);
  },
);

it.each(STEPS)('put %s while a backlog drains, it keeps its pace', async (_, step) => {
  rig = new ForwardRig(SENSORS);
  rig.receiver('plant').isDead = true;
  rig.start([settingsOf('plant', { backlogPerS: 20 })], 20);
  for (let i = 0; i < 600; i++) rig.closeMinute();
  await rig.clock.pass(60_000, 1_000);
  rig.receiver('plant').isDead = false;
  await rig.clock.pass(8_000, 500);
  const before = rig.receiver('plant').count;
  rig.clock.setWall(rig.clock.now() + step);
  await rig.clock.pass(30_000, 500);
  const drained = rig.receiver('plant').count - before;
  expect(drained).toBeGreaterThan(20 * 25);
  expect(drained).toBeLessThan(20 * 35);
  expect(rig.forwarder.status()[0]!.ratePerS).toBeGreaterThan(5);
});

it.each(STEPS)('put %s, live records go on within seconds', async (_, step) => {
  rig = new ForwardRig(SENSORS);
  rig.start([settingsOf('plant')]);
  await rig.clock.pass(2_000, 500);
  rig.clock.setWall(rig.clock.now() + step);
  for (let i = 0; i < 5; i++) {
    rig.closeMinute();
    await rig.clock.pass(3_000, 500);
    expect(sumOf('delivered')).toBe(3 * (i + 1));
  }
});

test('put forth by weeks, nothing is given up until the clock has stood for an hour', async () => {
  rig = new ForwardRig(SENSORS);
  rig.start([settingsOf('plant', { ageDaysMax: 30 })]);
  rig.receiver('plant').isDead = true;
  rig.closeMinute();
  await rig.clock.pass(20_000, 1_000);
  const right = rig.clock.now();
  rig.clock.setWall(right + 40 * DAY_MS);
  await rig.clock.pass(50 * 60_000, 10_000);
  expect(sumOf('expired')).toBe(0);
  rig.clock.setWall(right + 50 * 60_000);
  await rig.clock.pass(2 * HOUR_MS, 10_000);
  expect(sumOf('expired')).toBe(0);
  rig.clock.setWall(right + 40 * DAY_MS);
  await rig.clock.pass(HOUR_MS + 60_000, 10_000);
  expect(sumOf('expired')).toBe(3);
  expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
});

test('ages follow a clock that is put back at once, and its ordinary corrections', () => {
  rig = new ForwardRig(SENSORS);
  rig.start([]);
  const time = { now: 1_000_000, steady: 0 };
  const ages = new AgeClock({ now: () => time.now, steady: () => time.steady });
  time.now += 45_000;
  expect(ages.now()).toBe(1_045_000);
  time.now -= 500_000;
  expect(ages.now()).toBe(545_000);
  time.now += 10 * HOUR_MS;
  time.steady += 1_000;
  expect(ages.now()).toBe(546_000);
});
