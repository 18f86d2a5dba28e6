/** The forwarder as the gateway starts it, over a store of its own and a folder as the receiver. */
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { ForwardHost } from '../../src/forward/forward-host.js';
import type { SinkSettings } from '../../src/forward/registry.js';
import { openStore, type Store } from '../../src/store/store.js';
import { makeFolder } from '../store/sample-rows.js';
import { settingsOf } from './forward-rig.js';

const HOUR_MS = 3_600_000;
const folder = makeFolder();
let host: ForwardHost;
let store: Store;
afterEach(async () => {
  await host.stop();
  store.close();
  folder.remove();
});

function filesSink(name: string): SinkSettings {
  const own = { kind: 'files', folder: join(folder.dir, name), format: 'csv', everyS: 1 } as const;
  return { ...settingsOf(name), ...own };
}

test('what it writes down has the time of the gateway, also when a person changes that', async () => {
  store = openStore(folder.dir, { forwards: true, now: () => Date.now() });
  host = new ForwardHost({
    settings: {
      ...{ dataDir: folder.dir, site: 'works', sensors: [], motors: [], advice: new Map() },
      sinks: [filesSink('plant')],
    },
    log: () => undefined,
    settled: () => undefined,
  });
  await expect.poll(() => host.test('plant').catch(String), { timeout: 10_000 }).toBeNull();
  const days = (): string[] =>
    readdirSync(join(folder.dir, 'plant', 'journal')).filter((name) => !name.startsWith('.'));
  expect(days()).toHaveLength(1);
  const aheadMs = 50 * HOUR_MS;
  const ahead = new Date(Date.now() + aheadMs).toISOString().slice(0, 10);
  host.followClock(aheadMs);
  expect(await host.test('plant')).toBeNull();
  expect(days()).toContain(`${ahead}.csv`);
});
