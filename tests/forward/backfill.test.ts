/** Stretches of the past that are sent again: page by page, each no larger than it may be. */
import { afterEach, expect, test } from 'vitest';
import { MANIFEST_CODES } from '../../src/store/outbox-streams.js';
import { ForwardRig, settingsOf, START } from './forward-rig.js';

const DAY_MS = 86_400_000;
const SENSORS = Array.from({ length: 25 }, (_, i) => `pump-${String(i).padStart(2, '0')}/de`);

let rig: ForwardRig;
afterEach(() => rig.close());

test('manifests of a day with more sensors than a page may have come in several, each once', async () => {
  rig = new ForwardRig(SENSORS);
  const sizes: number[] = [];
  rig.start([settingsOf('plant')], 10);
  rig.closeMinute();
  await rig.clock.pass(10_000, 500);
  const receiver = rig.receiver('plant');
  receiver.rows.clear();
  receiver.onBatch = (records) => sizes.push(records.length);
  const wish = { from: START - DAY_MS, to: START + DAY_MS, codes: [MANIFEST_CODES['1m']], subject: null };
  rig.forwarder.backfill('plant', wish);
  await rig.clock.pass(10_000, 500);
  expect(receiver.held().map(({ key }) => key)).toEqual(SENSORS.map((sensor) => `${sensor}|1m|${START}`));
  expect(sizes).toEqual([10, 10, 5]);
  expect(rig.forwarder.status()[0]!.backfills[0]).toMatchObject({ sent: 25, refused: 0 });
  receiver.rows.clear();
  rig.forwarder.backfill('plant', { ...wish, subject: 'pump-07' });
  await rig.clock.pass(10_000, 500);
  expect(receiver.held().map(({ key }) => key)).toEqual([`pump-07/de|1m|${START}`]);
});

test('what a sink is in doubt of is sent again and nothing else; what has not begun is joined, what is under way is not', async () => {
  rig = new ForwardRig(SENSORS);
  const seen: string[] = [];
  rig.start([settingsOf('plant', { backlogPerS: 10 })], 10);
  for (let minute = 0; minute < 6; minute++) rig.closeMinute();
  await rig.clock.pass(60_000, 500);
  const receiver = rig.receiver('plant');
  receiver.rows.clear();
  receiver.onBatch = (records) => seen.push(...records.map(({ key }) => key));
  const minuteOf = (minute: number) => ({
    ...({ stream: 'rollups', period: '1m' } as const),
    ...{ from: START + minute * 60_000, to: START + (minute + 1) * 60_000 },
  });
  const askAgain = rig.askAgain.get('plant')!;
  askAgain([minuteOf(0)]);
  await rig.clock.pass(1_500, 500);
  expect(seen.length).toBeGreaterThan(0);
  expect(seen.length).toBeLessThan(25);
  // the first page is gone already: all of it comes once more
  askAgain([minuteOf(0)]);
  askAgain([minuteOf(3), { stream: 'transients', period: null, from: START, to: START + 1 }]);
  askAgain([minuteOf(0), minuteOf(1)]);
  await rig.clock.pass(60_000, 500);
  const times = (minute: number) =>
    SENSORS.map((sensor) => seen.filter((key) => key === `${sensor}|1m|${START + minute * 60_000}`).length);
  expect([0, 1, 2, 3].map((minute) => [...new Set(times(minute))])).toEqual([[2], [1], [0], [1]]);
  expect(seen).toHaveLength(4 * SENSORS.length);
  const { backfills } = rig.forwarder.status()[0]!;
  expect(backfills.map(({ sent, endedAt }) => [sent, endedAt !== null])).toEqual([
    [75, true],
    [25, true],
  ]);
});
