/** The forwarder as the gateway starts it, over a store of its own and a folder as the receiver. */
import { readdirSync, readlinkSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { ForwardHost } from '../../src/forward/forward-host.js';
import type { SinkSettings } from '../../src/forward/registry.js';
import { openStore, type Store } from '../../src/store/store.js';
import { makeFolder } from '../store/sample-rows.js';
import { settingsOf } from './forward-rig.js';

const HOUR_MS = 3_600_000;
let folder: ReturnType<typeof makeFolder>;
let host: ForwardHost;
let store: Store;
const log: string[] = [];
beforeEach(() => {
  folder = makeFolder();
  store = openStore(folder.dir, { forwards: true, now: () => Date.now() });
  log.length = 0;
});
afterEach(async () => {
  await host.stop();
  store.close();
  folder.remove();
});

function filesSink(name: string): SinkSettings {
  const own = { kind: 'files', folder: join(folder.dir, name), format: 'csv', everyS: 1 } as const;
  return { ...settingsOf(name), ...own };
}

function start(sinks: readonly SinkSettings[]): ForwardHost {
  return new ForwardHost({
    settings: {
      ...{ dataDir: folder.dir, site: 'works', sensors: [], motors: [], advice: new Map() },
      sinks,
    },
    log: (_level, facts, text) => log.push(`${text} ${JSON.stringify(facts)}`),
    settled: () => undefined,
  });
}

/** Files of the forwarder that this process has open. */
function countOpen(): number {
  return readdirSync('/proc/self/fd').filter((fd) => {
    try {
      return readlinkSync(`/proc/self/fd/${fd}`).startsWith(join(folder.dir, 'forward.db'));
    } catch {
      return false;
    }
  }).length;
}

test('a start that fails half way leaves nothing open', async () => {
  host = start([
    filesSink('plant'),
    { ...settingsOf('other'), kind: 'http', url: 'no address' } as SinkSettings,
  ]);
  await expect.poll(() => log.length, { timeout: 10_000 }).toBeGreaterThan(1);
  expect(log[0]).toContain('forwarding cannot begin yet');
  expect(countOpen()).toBe(0);
  await expect(host.test('plant')).rejects.toThrow('has not begun yet');
});

test('what it writes down has the time of the gateway, also when a person changes that', async () => {
  host = start([filesSink('plant')]);
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
