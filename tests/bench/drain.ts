/**
 * Draining a backlog over MQTT QoS 1, against the bare client library that publishes the same payloads to the same broker
 * with the same window. `node dist/tests/bench/drain.js [--rows N] [--rounds N]`. Needs mosquitto.
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
import { openSink, type SinkSettings } from '../../src/forward/registry.js';
import { OutboxReader } from '../../src/store/outbox-reader.js';
import { openReader } from '../../src/store/reader.js';
import { openStore } from '../../src/store/store.js';
import { freePort } from '../support/child.js';
import { makeMosquitto } from '../support/mosquitto-broker.js';
import { median } from './spread.js';

const MINUTE_MS = 60_000;
const IN_FLIGHT = 500;
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
    store.begin();
    store.apply({ ...emptyOutputs(), rollups });
    store.enterOutbox(Date.now());
    store.commit();
  }
  store.close();
}

/** Rollups a second through outbox, lane, ledger and sink. */
async function drain(dir: string, port: number, rows: number): Promise<number> {
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
  const startedAt = performance.now();
  forwarder.start();
  while (forwarder.status()[0]!.taken < rows) await new Promise((resolve) => setTimeout(resolve, 20));
  const tookMs = performance.now() - startedAt;
  if (!forwarder.ledger('bench').isBalanced) throw new Error('the ledger does not add up');
  await forwarder.stop();
  return (rows * 1_000) / tookMs;
}

/** The same payloads, made before the clock runs. */
async function publishBare(port: number, payloads: readonly string[]): Promise<number> {
  const client = await connectAsync(`mqtt://127.0.0.1:${port}`, { clientId: 'bare' });
  const startedAt = performance.now();
  await new Promise<void>((resolve) => {
    let [next, done, waiting] = [0, 0, 0];
    const fill = (): void => {
      while (waiting < IN_FLIGHT && next < payloads.length) {
        waiting += 1;
        client.publish('tallypost/bench/rollups/motor/de/1m', payloads[next++]!, { qos: 1 }, () => {
          waiting -= 1;
          done += 1;
          if (done === payloads.length) resolve();
          else fill();
        });
      }
    };
    fill();
  });
  const tookMs = performance.now() - startedAt;
  await client.endAsync();
  return (payloads.length * 1_000) / tookMs;
}

function makePayloads(dir: string): string[] {
  const reader = openReader(dir);
  const rows = SENSORS.flatMap((sensor) => readAll(reader, sensor));
  reader.close();
  return rows;
}

function readAll(reader: ReturnType<typeof openReader>, sensor: string): string[] {
  const [row] = reader.all('SELECT id FROM name WHERE text = ?', sensor) as [[number]];
  return reader
    .all('SELECT start, revision FROM rollup_1m WHERE sensor = ?', row[0])
    .map(([start, revision]) =>
      JSON.stringify(
        toForwarded(
          {
            content: {
              stream: 'rollups',
              row: {
                ...{
                  sensor,
                  period: '1m',
                  start: start as number,
                  revision: revision as number,
                  uncertainMs: 0,
                },
                ...{
                  pulses: [0, 0, 0, 0, 3, 0, 400, 2, 0],
                  ms: [0, 0, 0, 0, 5_000, 0, 50_000, 5_000, 0],
                  bins: [],
                },
              },
            },
            ...{
              key: `${sensor}|1m|${start}`,
              subject: sensor,
              revision: 0,
              at: start as number,
              isBacklog: true,
            },
          },
          { site: 'bench', adviceOf: () => NO_ADVICE },
        ),
      ),
    );
}

export async function measureDrain(rows: number, rounds: number): Promise<{ perS: number; ratio: number }> {
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-drain-'));
  const port = await freePort();
  const broker = makeMosquitto({ folder: join(folder, 'broker'), port });
  await broker.start();
  const [drained, ratios]: [number[], number[]] = [[], []];
  try {
    for (let round = 0; round < rounds; round++) {
      const dir = join(folder, `store-${round}`);
      fillStore(dir, rows);
      const bare = await publishBare(port, makePayloads(dir));
      const own = await drain(dir, port, rows);
      drained.push(own);
      ratios.push(own / bare);
      rmSync(dir, { recursive: true });
    }
  } finally {
    await broker.stop();
    rmSync(folder, { recursive: true, force: true });
  }
  return { perS: median(drained), ratio: median(ratios) };
}

if (process.argv[1]?.endsWith('drain.js') === true) {
  const { values } = parseArgs({
    options: { rows: { type: 'string', default: '50000' }, rounds: { type: 'string', default: '5' } },
  });
  const { perS, ratio } = await measureDrain(Number(values.rows), Number(values.rounds));
  console.log(
    `MQTT QoS 1: ${Math.round(perS)} rollups/s drained, ${ratio.toFixed(2)} of the bare client (targets 5,000 and 0.7)`,
  );
}
