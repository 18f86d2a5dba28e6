/** A store that fills its outbox, a forwarder and receivers in memory, all in a folder and a time of their own. */
import { openForwardDatabase } from '../../src/forward/forward-database.js';
import { Forwarder } from '../../src/forward/forwarder.js';
import type { SinkSettings } from '../../src/forward/registry.js';
import type { SinkParts } from '../../src/forward/sink.js';
import { OutboxReader } from '../../src/store/outbox-reader.js';
import { openReader } from '../../src/store/reader.js';
import { openStore, type Store } from '../../src/store/store.js';
import type { Outputs } from '../../src/core/rows.js';
import { makeFolder, outputs, rollup } from '../store/sample-rows.js';
import { MemoryReceiver, openMemorySink } from './memory-sink.js';
import { seeded } from '../support/little-plant.js';
import { VirtualClock } from './virtual-clock.js';

export const START = Date.UTC(2026, 2, 2);
const MINUTE_MS = 60_000;

export function settingsOf(name: string, some: Partial<SinkSettings> = {}): SinkSettings {
  return {
    ...{ name, kind: 'mqtt', url: 'mqtt://unused.invalid', verifyServer: true, inFlightMax: 100 },
    ...{ streams: ['rollups', 'transients', 'alarms', 'journal', 'manifests'], periods: ['1m', '10m', '1h'] },
    ...{ backlogPerS: 1_000, ageDaysMax: 30, backlogBytesMax: 1e9, deadlineMs: 5_000, retryMostMs: 5_000 },
    ...{ secrets: new Map() },
    ...some,
  } as SinkSettings;
}

export class ForwardRig {
  readonly folder = makeFolder();
  readonly clock = new VirtualClock(START);
  readonly receivers = new Map<string, MemoryReceiver>();
  readonly log: string[] = [];
  /** by sink: how it asks for what its receiver may have lost */
  readonly askAgain = new Map<string, SinkParts['askAgain']>();
  /** called with the name of each sink that is made */
  onMake: (name: string) => void = () => undefined;
  store: Store;
  forwarder!: Forwarder;
  minute = 0;

  constructor(readonly sensors: readonly string[]) {
    this.store = this.#openStore();
    this.commit({ chains: sensors.map((sensor, i) => ({ id: i + 1, sensor, device: 'd', boot: null })) });
  }

  #openStore(): Store {
    return openStore(this.folder.dir, { forwards: true, now: this.clock.now });
  }

  /** As the engine commits. */
  commit(some: Partial<Outputs>): void {
    this.store.begin();
    this.store.apply(outputs(some));
    this.store.enterOutbox(this.clock.now());
    this.store.commit();
  }

  start(settings: readonly SinkSettings[], recordsMost = 500): void {
    const random = seeded(7);
    this.forwarder = new Forwarder({
      ...{ sinks: settings, site: 'works', sensors: this.sensors, motors: [], clock: this.clock, random },
      db: openForwardDatabase(this.folder.dir).db,
      outbox: new OutboxReader(openReader(this.folder.dir)),
      adviceOf: () => ({ consequence: '', action: '', rationale: '', class: '', timeToRespondMs: null }),
      openSink: ({ name }, { askAgain }) => {
        this.onMake(name);
        this.askAgain.set(name, askAgain);
        return openMemorySink(this.receiver(name), recordsMost, this.clock);
      },
      log: (level, facts, text) => this.log.push(`${level} ${text} ${JSON.stringify(facts)}`),
      settled: (done) => this.store.settleOutbox(done),
    });
    this.forwarder.start();
  }

  /** While the forwarder is stopped, something is done to the store's file. */
  replaceStore(work: () => void): void {
    this.store.close();
    work();
    this.store = this.#openStore();
  }

  receiver(name: string): MemoryReceiver {
    let receiver = this.receivers.get(name);
    if (receiver === undefined) {
      receiver = new MemoryReceiver();
      this.receivers.set(name, receiver);
    }
    return receiver;
  }

  /** The minute that ended now, of every sensor; ten minutes and hours with it where they end. */
  closeMinute(): void {
    const start = START + this.minute * MINUTE_MS;
    this.minute += 1;
    const rollups = this.sensors.flatMap((sensor, i) => [
      rollup(this.minute % 50, MINUTE_MS, { sensor, start, period: '1m' }),
      ...(this.minute % 10 === 0
        ? [rollup(i, 600_000, { sensor, start: start - 9 * MINUTE_MS, period: '10m' })]
        : []),
      ...(this.minute % 60 === 0
        ? [rollup(i, 3_600_000, { sensor, start: start - 59 * MINUTE_MS, period: '1h' })]
        : []),
    ]);
    this.commit({ rollups });
  }

  /** Late data change a minute that is long over. */
  touchMinute(sensor: string, minute: number): void {
    this.commit({ rollups: [rollup(1, 0, { sensor, start: START + minute * MINUTE_MS, period: '1m' })] });
  }

  async stopForwarder(): Promise<void> {
    const stopped = this.forwarder.stop();
    await this.clock.pass(6_000, 1_000);
    await stopped;
  }

  async close(): Promise<void> {
    await this.stopForwarder();
    this.store.close();
    this.folder.remove();
  }
}
