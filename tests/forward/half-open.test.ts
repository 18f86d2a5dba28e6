/** Half-open connections: packets vanish without a reset, to a broker and to an HTTP server in processes of their own. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { openHttpSink } from '../../src/forward/http.js';
import { openMqttSink } from '../../src/forward/mqtt.js';
import type { Sink } from '../../src/forward/sink.js';
import { freePort, startChild, stopChild, type Child } from '../support/child.js';
import { hasMosquitto, makeMosquitto, untilListening, type Mosquitto } from '../support/mosquitto-broker.js';
import { builtFile } from '../support/repository.js';
import { makeParts, rollupRecords } from './made-records.js';
import { openStallingProxy, type StallingProxy } from './stalling-proxy.js';

const DEADLINE_MS = 700;
const folder = mkdtempSync(join(tmpdir(), 'tallypost-stall-'));
let proxy: StallingProxy;
let child: Child | null = null;
let broker: Mosquitto | null = null;
afterEach(async () => {
  await proxy.close();
  if (child !== null) await stopChild(child);
  await broker?.stop();
  rmSync(folder, { recursive: true, force: true });
});

/** Taken, then silence: the call ends with its deadline and the socket is gone; then taken again. */
async function goThrough(sink: Sink): Promise<void> {
  const patience = (): AbortSignal => AbortSignal.timeout(10_000);
  await sink.open(patience());
  expect(await sink.send(rollupRecords(10), patience())).toEqual({ outcome: 'taken' });
  proxy.isStalled = true;
  const before = performance.now();
  const sent = await sink.send(rollupRecords(10, 10), AbortSignal.timeout(DEADLINE_MS));
  expect(sent.outcome).toBe('later');
  expect(performance.now() - before).toBeLessThan(DEADLINE_MS + 1_000);
  await sink.close();
  await expect.poll(() => proxy.count(), { timeout: 3_000 }).toBeLessThanOrEqual(1);
  proxy.isStalled = false;
  await sink.open(patience());
  expect(await sink.send(rollupRecords(10, 10), patience())).toEqual({ outcome: 'taken' });
  await sink.close();
}

test('an HTTP server that goes silent in the middle', async () => {
  const port = await freePort();
  child = startChild(process.execPath, [
    ...[builtFile('tests/crash/receiver.js'), 'http', String(port), join(folder, 'received.db')],
  ]);
  await untilListening(port, child);
  proxy = await openStallingProxy(port);
  const url = `http://127.0.0.1:${proxy.port}/`;
  await goThrough(
    openHttpSink({ kind: 'http', url, batchMax: 500, gzip: true, verifyServer: true }, makeParts()),
  );
});

if (hasMosquitto)
  test('a broker that goes silent in the middle', async () => {
    const port = await freePort();
    broker = makeMosquitto({ folder: join(folder, 'broker'), port });
    await broker.start();
    proxy = await openStallingProxy(port);
    const url = `mqtt://127.0.0.1:${proxy.port}`;
    const settings = { kind: 'mqtt', url, verifyServer: true, inFlightMax: 5, deadlineMs: 5_000 } as const;
    await goThrough(openMqttSink(settings, makeParts()));
  });
else
  console.warn(
    'left out: a half-open broker, because mosquitto is not installed (apt-get install mosquitto)',
  );
