/**
 * Draining a backlog over MQTT QoS 1, against the bare client library that publishes to the same broker with the same window.
 * Two comparisons: texts made beforehand, which is the wire and the library alone; and the same work, where the bare program
 * reads the same rows from the same store and makes the same texts on the way, without outbox, cursor and ledger. `node dist/tests/bench/drain.js [--rows N] [--rounds N]`. Needs mosquitto.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { connectAsync } from 'mqtt';
import { emptyOutputs } from '../../src/core/outputs.js';
import { WALL_CLOCK } from '../../src/forward/clock.js';
import { openForwardDatabase } from '../../src/forward/forward-database.js';
import { Forwarder } from '../../src/forward/forwarder.js';
import { toForwarded } from '../../src/forward/record-body.js';
import { topicOf } from '../../src/forward/mqtt.js';
import { openSink, type SinkSettings } from '../../src/forward/registry.js';
import { OutboxReader } from '../../src/store/outbox-reader.js';
import { openReader } from '../../src/store/reader.js';
import { openStore } from '../../src/store/store.js';
import { freePort } from '../support/child.js';
import { makeMosquitto } from '../support/mosquitto-broker.js';
import { median } from './spread.js';

const MINUTE_MS = 60_000;
const IN_FLIGHT = 500;
/** Rows of one read of the bare program, as many as a batch of the sink has. */
const PAGE = 2_000;
const SENSORS = Array.from({ length: 50 }, (_, i) => `motor-${i}/de`);
const NO_ADVICE = { consequence: '', action: '', rationale: '', class: '', timeToRespondMs: null };

/** A store whose outbox holds so many rollups. */
function fillStore(dir: string, rows: number): void {
  const store = openStore(dir, { forwards: true });
  const begin = Date.now() - (Date.now() % MINUTE_MS) - rows * MINUTE_MS;
  for (let at = 0; at < rows / SENSORS.length; at++) {
    const rollups = SENSORS.map((sensor, i) => ({
      ...{ sensor, period: '1m' as const, start: begin + at * MINUTE_MS, uncertainMs: 0, bins: [] },
      pulses: [0, 0, 0, 0, 3, 0, 400 + i, 2, 0],
      ms: [0, 0, 0, 0, 5_000, 0, 50_000, 5_000, 0],
    }));
    const chains = at > 0 ? [] : SENSORS.map((sensor, i) => ({ id: i + 1, sensor, device: 'd', boot: null }));
    store.begin();
    store.apply({ ...emptyOutputs(), chains, rollups });
    // an hour old: it is a backlog
    store.enterOutbox(Date.now() - 3_600_000);
    store.commit();
  }
  store.close();
}

interface Speed {
  readonly perS: number;
  /** processor time of this process for each message, microseconds: what a busy machine says least untruly */
  readonly cpuUs: number;
}

function startWatch(): (messages: number) => Speed {
  const startedAt = performance.now();
  const before = process.cpuUsage();
  return (messages) => {
    const { user, system } = process.cpuUsage(before);
    const perS = (messages * 1_000) / (performance.now() - startedAt);
    return { perS, cpuUs: (user + system) / messages };
  };
}

/** Through outbox, lane, ledger and sink. */
async function drain(dir: string, port: number, rows: number): Promise<Speed> {
  const settings: SinkSettings = {
    ...{ name: 'bench', kind: 'mqtt', url: `mqtt://127.0.0.1:${port}`, verifyServer: true },
    ...{ inFlightMax: IN_FLIGHT, streams: ['rollups'], periods: ['1m'], backlogPerS: 1_000_000 },
    ...{ ageDaysMax: 30, backlogBytesMax: 1e9, deadlineMs: 30_000, retryMostMs: 1_000, secrets: new Map() },
  };
  const forwarder = new Forwarder({
    ...{ sinks: [settings], site: 'bench', sensors: SENSORS, motors: [], clock: WALL_CLOCK, openSink },
    db: openForwardDatabase(dir).db,
    outbox: new OutboxReader(openReader(dir)),
    adviceOf: () => NO_ADVICE,
    random: Math.random,
    log: (_level, facts, text) => console.error(text, facts),
    settled: () => undefined,
  });
  const stop = startWatch();
  forwarder.start();
  while (forwarder.status()[0]!.taken < rows) await new Promise((resolve) => setTimeout(resolve, 50));
  const speed = stop(rows);
  if (!forwarder.ledger('bench').isBalanced) throw new Error('the ledger does not add up');
  await forwarder.stop();
  return speed;
}

interface Message {
  readonly topic: string;
  readonly payload: string;
}

/** Messages a second, at most so many without their PUBACK; `next` null: there are no more. */
async function publishBare(port: number, next: () => Message | null): Promise<Speed> {
  const client = await connectAsync(`mqtt://127.0.0.1:${port}`, { clientId: 'bare' });
  const stop = startWatch();
  let done = 0;
  await new Promise<void>((resolve) => {
    let waiting = 0;
    let isOver = false;
    const fill = (): void => {
      while (waiting < IN_FLIGHT && !isOver) {
        const message = next();
        if (message === null) {
          isOver = true;
          break;
        }
        waiting += 1;
        client.publish(message.topic, message.payload, { qos: 1 }, () => {
          waiting -= 1;
          done += 1;
          if (isOver && waiting === 0) resolve();
          else fill();
        });
      }
    };
    fill();
    if (waiting === 0) resolve();
  });
  const speed = stop(done);
  await client.endAsync();
  if (done === 0) throw new Error('there was nothing to publish');
  return speed;
}

/** The rows of the store as messages, read in pages. */
function* readMessages(dir: string): Generator<Message> {
  const reader = openReader(dir);
  const parts = { site: 'bench', adviceOf: () => NO_ADVICE };
  const query = { sensor: null, period: '1m', from: null, to: null, limit: PAGE } as const;
  for (let cursor: string | null = null; ;) {
    const page = reader.rollups({ ...query, cursor });
    for (const row of page.items) {
      const place = { key: `${row.sensor}|1m|${row.start}`, subject: row.sensor, revision: row.revision };
      const record = {
        content: { stream: 'rollups' as const, row },
        ...place,
        at: row.start,
        isBacklog: true,
      };
      const payload = JSON.stringify(toForwarded(record, parts));
      yield { topic: topicOf(record, {}, parts), payload };
    }
    cursor = page.next;
    if (cursor === null) break;
  }
  reader.close();
}

function nextOf(messages: Iterable<Message>): () => Message | null {
  const iterator = messages[Symbol.iterator]();
  return () => {
    const { done, value } = iterator.next() as IteratorResult<Message, undefined>;
    return done === true ? null : value;
  };
}

export interface DrainResult {
  readonly perS: number;
  /** of the bare client that does the same work, and of one whose texts are made beforehand */
  readonly ratio: number;
  readonly ratioOfWire: number;
  /** the same of processor time: the bare client's at the same work over ours */
  readonly ratioOfCpu: number;
}

export async function measureDrain(rows: number, rounds: number): Promise<DrainResult> {
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-drain-'));
  const port = await freePort();
  const broker = makeMosquitto({ folder: join(folder, 'broker'), port });
  await broker.start();
  const measured: { own: Speed; bare: Speed; wire: Speed }[] = [];
  try {
    for (let round = 0; round < rounds; round++) {
      const dir = join(folder, `store-${round}`);
      fillStore(dir, rows);
      const wire = await publishBare(port, nextOf([...readMessages(dir)]));
      const bare = await publishBare(port, nextOf(readMessages(dir)));
      const own = await drain(dir, port, rows);
      measured.push({ own, bare, wire });
      rmSync(dir, { recursive: true });
    }
  } finally {
    await broker.stop();
    rmSync(folder, { recursive: true, force: true });
  }
  return {
    perS: median(measured.map(({ own }) => own.perS)),
    ratio: median(measured.map(({ own, bare }) => own.perS / bare.perS)),
    ratioOfWire: median(measured.map(({ own, wire }) => own.perS / wire.perS)),
    ratioOfCpu: median(measured.map(({ own, bare }) => bare.cpuUs / own.cpuUs)),
  };
}

if (process.argv[1]?.endsWith('drain.js') === true) {
  const { values } = parseArgs({
    options: { rows: { type: 'string', default: '50000' }, rounds: { type: 'string', default: '5' } },
  });
  const { perS, ratio, ratioOfWire, ratioOfCpu } = await measureDrain(
    Number(values.rows),
    Number(values.rounds),
  );
  console.log(
    `MQTT QoS 1: ${Math.round(perS)} rollups/s drained, ${ratio.toFixed(2)} of the bare client at the same work (targets 5,000 and 0.7), ${ratioOfWire.toFixed(2)} of one with its texts made beforehand; in processor time ${ratioOfCpu.toFixed(2)} of the bare client at the same work`,
  );
}
