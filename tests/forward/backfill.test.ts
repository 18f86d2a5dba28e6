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
