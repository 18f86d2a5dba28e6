/**
 * A store that fills its outbox as the engine does, and the real forwarder in real time before real receivers. One entry of time is
 * simulated: when the past was committed.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { sinksSection } from '../../src/config/sinks-schema.js';
import type { Outputs } from '../../src/core/rows.js';
import { ForwardHost } from '../../src/forward/forward-host.js';
import type { SinkLedger, SinkStatus } from '../../src/forward/sink-status.js';
import { openStore, type Store } from '../../src/store/store.js';
import { outputs, rollup } from '../store/sample-rows.js';
import { sleep } from '../support/child.js';

export const SITE = 'tarn-hollow';
export const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;

export interface SinkWish {
  readonly name: string;
  readonly [key: string]: unknown;
}

export class ForwardingRig {
  readonly folder = mkdtempSync(join(tmpdir(), 'tallypost-receivers-'));
  readonly dataDir = join(this.folder, 'data');
  readonly store: Store;
  readonly log: string[] = [];
  readonly motors: readonly string[];
  /** the first minute that there is, ms */
  readonly startAt: number;
  /** minutes that have closed */
  minute = 0;
  #host: ForwardHost | null = null;
  #time: number;

  /** `startAt` is taken down to its hour. */
  constructor(
    readonly sensors: readonly string[],
    startAt: number,
  ) {
    this.startAt = startAt - (startAt % HOUR_MS);
    this.#time = this.startAt;
    this.motors = [...new Set(sensors.map((sensor) => sensor.split('/')[0]!))];
    this.store = openStore(this.dataDir, { forwards: true, now: () => this.#time });
    this.commit(
      { chains: sensors.map((sensor, i) => ({ id: i + 1, sensor, device: 'd', boot: null })) },
      this.startAt,
    );
  }

  /** As the engine commits. `at`: when it does so, ms. */
  commit(some: Partial<Outputs>, at: number): void {
    this.#time = at;
    this.store.begin();
    this.store.apply(outputs(some));
    this.store.enterOutbox(at);
    this.store.commit();
  }

  /** The minute that ended now, of every sensor; ten minutes, an hour, a start and an entry with it where they end. */
  closeMinute(at: number): void {
    const start = this.startAt + this.minute * MINUTE_MS;
    this.minute += 1;
    const periods = [
      { period: '1m', minutes: 1 },
      { period: '10m', minutes: 10 },
      { period: '1h', minutes: 60 },
    ] as const;
    const rollups = this.sensors.flatMap((sensor, i) =>
      periods
        .filter(({ minutes }) => this.minute % minutes === 0)
        .map(({ period, minutes }) =>
          rollup((this.minute + i) % 50, minutes * MINUTE_MS, {
            ...{ sensor, period, start: start - (minutes - 1) * MINUTE_MS },
          }),
        ),
    );
    const isHour = this.minute % 60 === 0;
    this.commit(
      {
        rollups,
        transients: isHour ? this.motors.map((motor) => this.#transient(motor, start)) : [],
        journal: isHour ? [this.#entry(start)] : [],
      },
      at,
    );
  }

  #transient(motor: string, from: number): Outputs['transients'][number] {
    const counts = this.sensors
      .filter((sensor) => sensor.startsWith(`${motor}/`))
      .map((sensor) => ({ sensor, pulses: 12, ms: 9_000 }));
    return { motor, from, to: from + 20_000, edges: 2, kind: 'start', counts };
  }

  #entry(at: number): Outputs['journal'][number] {
    return {
      ...{ at, detectedAt: at, kind: 'operator', subject: this.motors[0]!, from: '', to: '', who: 'shift' },
      ...{ text: 'greased', what: '', annunciated: false, configuration: 'r1', evidence: null },
    };
  }

  /** Late data change a minute that is long over. */
  touchMinute(sensor: string, minute: number, at: number): void {
    const start = this.startAt + minute * MINUTE_MS;
    this.commit({ rollups: [rollup(1, 0, { sensor, start, period: '1m' })] }, at);
  }

  /** Hours without a receiver: closed minutes, and now and then one that changes an hour later. */
  passHours(hours: number): void {
    for (const end = this.minute + hours * 60; this.minute < end;) {
      const at = this.startAt + (this.minute + 1) * MINUTE_MS + 500;
      this.closeMinute(at);
      if (this.minute > 60 && this.minute % 10 === 7)
        this.touchMinute(this.sensors[this.minute % this.sensors.length]!, this.minute - 60, at);
    }
  }

  /** `wishes`: as in the configuration. `motors`: of the configuration; absent: all. */
  start(wishes: readonly SinkWish[], motors: readonly string[] = this.motors): void {
    const sinks = sinksSection.parse(wishes).map((sink) => ({ ...sink, secrets: new Map<string, string>() }));
    const sensors = this.sensors.filter((sensor) => motors.includes(sensor.split('/')[0]!));
    this.#host = new ForwardHost({
      settings: { dataDir: this.dataDir, site: SITE, sensors, motors, sinks, advice: new Map() },
      log: (level, facts, text) => this.log.push(`${level} ${text} ${JSON.stringify(facts)}`),
      settled: (done) => this.store.settleOutbox(done),
    });
  }

  get host(): ForwardHost {
    if (this.#host === null) throw new Error('the forwarder does not run');
    return this.#host;
  }

  statusOf(name: string): SinkStatus | null {
    return this.host.status().find((one) => one.name === name) ?? null;
  }

  async ledger(name: string): Promise<SinkLedger> {
    return this.host.ledger(name);
  }

  async stopForwarder(): Promise<void> {
    await this.#host?.stop();
    this.#host = null;
  }

  /** Until nothing waits at these sinks; throws with how they stand when it takes too long. */
  async untilForwarded(names: readonly string[], patienceMs: number): Promise<void> {
    const rests = (): boolean =>
      names.every((name) => {
        const status = this.statusOf(name);
        return status !== null && status.waitingLive + status.backlog === 0;
      });
    let quiet = 0;
    for (const end = Date.now() + patienceMs; quiet < 3; await sleep(400)) {
      quiet = rests() ? quiet + 1 : 0;
      if (Date.now() > end)
        throw new Error(
          `not forwarded in time: ${JSON.stringify(this.host.status())}\n${this.log.join('\n')}`,
        );
    }
  }

  async close(): Promise<void> {
    await this.stopForwarder();
    this.store.close();
    rmSync(this.folder, { recursive: true, force: true });
  }
}
