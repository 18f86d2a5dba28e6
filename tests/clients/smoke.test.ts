import { afterEach, expect, it } from 'vitest';
import { READING_TOPIC, reading, startRig, waitFor, type Rig } from '../engine/gateway-rig.js';

let rig: Rig;
afterEach(() => rig.stop());

it('a reading is acknowledged and stored', async () => {
  rig = await startRig();
  expect(rig.gateway.ready()).toEqual({ ok: true, reasons: [] });
  const client = await rig.connect();
  await client.publishAsync(READING_TOPIC, reading(1, 100), { qos: 1 });
  await client.publishAsync(READING_TOPIC, reading(2, 130), { qos: 1 });
  await client.publishAsync(READING_TOPIC, '{nonsense', { qos: 1 });
  const store = rig.reader();
  const rows = [...store.increments({ sensor: null, from: null, to: null })].flat();
  expect(rows.map((row) => [row.sensor, row.count, row.pulses])).toEqual([
    ['pump-1/de', 100, 0],
    ['pump-1/de', 130, 30],
  ]);
  expect(store.quarantine({ from: null, to: null, limit: 10, cursor: null }).items).toHaveLength(1);
  await waitFor('figures', () => rig.gateway.figures().engine?.batches === 3);
  store.close();
});
