/**
 * A host that is dead while the broker still has it online, and a gateway that is killed meanwhile: a kill is what a copy of its
 * files holds. Needs mosquitto.
 */
import { cpSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { WALL_CLOCK } from '../../../src/forward/clock.js';
import { openForwardDatabase } from '../../../src/forward/forward-database.js';
import { Forwarder } from '../../../src/forward/forwarder.js';
import { openSink, type SinkSettings } from '../../../src/forward/registry.js';
import { OutboxReader } from '../../../src/store/outbox-reader.js';
import { openReader } from '../../../src/store/reader.js';
import { openStore, type Store } from '../../../src/store/store.js';
import {
  hasMosquitto,
  listenTo,
  startMosquitto,
  WITHOUT_MOSQUITTO,
  type Listener,
  type MosquittoBroker,
} from '../../support/heard-broker.js';
import { alarm, EVIDENCE, makeFolder, outputs, rollup, segment } from '../../store/sample-rows.js';
import type { Outputs } from '../../../src/core/rows.js';
import { settingsOf } from '../forward-rig.js';
import { GROUP, Host, HOST, NODE } from './rig.js';

const MINUTE_MS = 60_000;
const START = Date.UTC(2026, 2, 2, 8);
const MINUTES = 30;
const SENSORS = ['pump-1/de', 'pump-1/nde'];
const PATIENCE = { timeout: 20_000, interval: 100 };

function sinkOf(url: string): SinkSettings {
  const own = { kind: 'sparkplug', url, group: GROUP, node: NODE, primaryHost: HOST, rebirthMs: 0 } as const;
  return { ...settingsOf('control'), ...own, doubtMs: 120_000 } as SinkSettings;
}

function startForwarder(dir: string, url: string, settled: (done: ReadonlyMap<number, number>) => void) {
  const forwarder = new Forwarder({
    ...{ sinks: [sinkOf(url)], site: GROUP, sensors: SENSORS, motors: ['pump-1'], clock: WALL_CLOCK },
    ...{ db: openForwardDatabase(dir).db, outbox: new OutboxReader(openReader(dir)) },
    ...{ openSink, random: () => 0.5, log: () => undefined, settled },
    adviceOf: () => ({ consequence: '', action: '', rationale: '', class: '', timeToRespondMs: null }),
  });
  forwarder.start();
  return forwarder;
}

/** Everything of some minutes, of each stream; then one of two transients is withdrawn. */
function fill(store: Store): void {
  const commit = (some: Partial<Outputs>): void => {
    store.begin();
    store.apply(outputs(some));
    store.enterOutbox(Date.now());
    store.commit();
  };
  commit({
    chains: SENSORS.map((sensor, i) => ({ id: i + 1, sensor, device: 'd', boot: null })),
    // a store forgets counters without any when it is opened
    segments: SENSORS.map((sensor, i) => segment({ sensor, chain: i + 1 })),
  });
  const transient = { motor: 'pump-1', edges: 2, kind: 'start' as const, counts: [] };
  commit({
    transients: [
      { ...transient, from: START + 65_000, to: START + 95_000 },
      // without length, where what is remembered begins
      { ...transient, from: START, to: START },
    ],
    alarms: [alarm({ since: START })],
    journal: Array.from({ length: 3 }, (_, i) => ({
      ...{ at: START + i * 3_600_000, detectedAt: START, kind: 'alarm', subject: 'pump-1.de-rate-high' },
      ...{ from: 'normal', to: 'unacknowledged', who: '', text: `entry ${i}`, what: 'raised' },
      ...{ annunciated: true, configuration: 'r1', evidence: EVIDENCE },
    })),
  });
  for (let minute = 0; minute < MINUTES; minute++) {
    const start = START + minute * MINUTE_MS;
    commit({ rollups: SENSORS.map((sensor) => rollup(minute, MINUTE_MS, { sensor, start, period: '1m' })) });
  }
}

function runSuite(): void {
  let broker: MosquittoBroker;
  let folder: ReturnType<typeof makeFolder>;
  let store: Store;
  let forwarder: Forwarder;
  let host: Listener | null = null;
  beforeEach(async () => {
    broker = await startMosquitto();
    folder = makeFolder();
    mkdirSync(join(folder.dir, '0'));
    store = openStore(join(folder.dir, '0'), { forwards: true, now: () => Date.now() });
  });
  afterEach(async () => {
    await forwarder.stop();
    store.close();
    await host?.close();
    await broker.stop();
    folder.remove();
  });

  const say = async (timestamp: number): Promise<void> => {
    const client = await listenTo(broker.url, ['none']);
    const payload = JSON.stringify({ online: true, timestamp });
    await client.client.publishAsync(`spBv1.0/STATE/${HOST}`, payload, { qos: 1, retain: true });
    await client.close();
  };
  const untilSent = (): Promise<void> =>
    expect
      .poll(() => {
        const [status] = forwarder.status();
        const isDone = status!.backfills.every(({ endedAt }) => endedAt !== null);
        return isDone && status!.taken > 0 && status!.waitingLive + status!.backlog === 0;
      }, PATIENCE)
      .toBe(true);
  const told = (): string[] => {
    const view = new Host();
    for (const { topic, payload } of host!.heard)
      if (/\/[ND](BIRTH|DATA)\//.test(topic)) view.hear(topic, payload);
    const keys = view.values
      .filter(({ name }) => /\/revision$|withdrawn$|journal\/text$/.test(name))
      .map(({ device, name, at, value }) => {
        const says = name.endsWith('/revision') ? '' : ` ${String(value)}`;
        return `${device}/${name} ${(at - START) / MINUTE_MS}${says}`;
      });
    return [...new Set(keys)];
  };

  it(
    'everything that was sent to a dead host comes from the store, after two kills of the gateway',
    { timeout: 90_000 },
    async () => {
      await say(1);
      fill(store);
      forwarder = startForwarder(join(folder.dir, '0'), broker.url, (done) => store.settleOutbox(done));
      await untilSent();
      store.begin();
      store.apply(outputs({ removedTransients: [{ motor: 'pump-1', from: START + 65_000 }] }));
      store.enterOutbox(Date.now());
      store.commit();
      const before = forwarder.status()[0]!.taken;
      await expect.poll(() => forwarder.status()[0]!.taken, PATIENCE).toBeGreaterThan(before);
      await untilSent();
      for (const life of [1, 2]) {
        // nothing of the last life is closed in the copy
        cpSync(join(folder.dir, String(life - 1)), join(folder.dir, String(life)), { recursive: true });
        await forwarder.stop();
        store.close();
        store = openStore(join(folder.dir, String(life)), { forwards: true, now: () => Date.now() });
        forwarder = startForwarder(join(folder.dir, String(life)), broker.url, (done) =>
          store.settleOutbox(done),
        );
        await untilSent();
      }
      host = await listenTo(broker.url, ['spBv1.0/#']);
      await say(2);
      const minutes = Array.from({ length: MINUTES }, (_, i) => i);
      const wanted = [
        ...SENSORS.flatMap((sensor) => minutes.map((i) => `${sensor}/1m/revision ${i}`)),
        ...['pump-1/alarm/de-rate-high/revision 0', 'pump-1/transient/revision 0'],
        ...['pump-1/transient/withdrawn 0 false', `pump-1/transient/withdrawn ${65 / 60} true`],
        ...[0, 60, 120].map((at, i) => `/journal/text ${at} entry ${i}`),
      ];
      await expect.poll(() => told(), PATIENCE).toEqual(expect.arrayContaining(wanted));
    },
  );
}

if (!hasMosquitto()) it(WITHOUT_MOSQUITTO, () => console.warn(WITHOUT_MOSQUITTO));
else describe('a dead host', runSuite);
