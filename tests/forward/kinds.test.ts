/** The suite of the sinks against real receivers: Debian's broker, an HTTP server in another process, and files. */
import { DuckDBInstance } from '@duckdb/node-api';
import { existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openFilesSink } from '../../src/forward/files.js';
import { openHttpSink } from '../../src/forward/http.js';
import { openMqttSink } from '../../src/forward/mqtt.js';
import { ReceiverTable } from '../crash/receiver-table.js';
import { freePort, sleep, startChild, stopChild, type Child } from '../support/child.js';
import { hasMosquitto, makeMosquitto, untilListening } from '../support/mosquitto-broker.js';
import { builtFile } from '../support/repository.js';
import { makeParts } from './made-records.js';
import { describeSink, type Held, type SinkRig } from './sink-contract.js';

function makeFolder(): string {
  return mkdtempSync(join(tmpdir(), 'tallypost-sink-'));
}

/** As it stands when nothing more comes: a subscriber hears of a record after the publisher's PUBACK. */
async function readTable(file: string): Promise<Held[]> {
  let before = '';
  for (;;) {
    await sleep(400);
    const table = new ReceiverTable(file);
    const rows = table.rows();
    table.close();
    const now = JSON.stringify(rows.map(({ key, revision }) => [key, revision]));
    if (now === before) return rows.map(({ stream, key, revision }) => ({ stream, key, revision }));
    before = now;
  }
}

async function untilReady(child: Child): Promise<void> {
  for (let i = 0; i < 500 && !child.said().includes('ready'); i++) await sleep(20);
}

async function startHttpRig(): Promise<SinkRig> {
  const folder = makeFolder();
  const port = await freePort();
  const file = join(folder, 'received.db');
  let child: Child;
  const start = async (): Promise<void> => {
    child = startChild(process.execPath, [builtFile('tests/crash/receiver.js'), 'http', String(port), file]);
    await untilListening(port, child);
  };
  await start();
  const settings = {
    kind: 'http',
    ...{
      url: `http://127.0.0.1:${port}/events`,
      batchMax: 500,
      gzip: true,
      verifyServer: true,
    },
  } as const;
  return {
    makeSink: () =>
      openHttpSink(settings, makeParts({ secrets: new Map([['secret', 'a-secret-of-the-tests']]) })),
    held: () => readTable(file),
    kill: async () => {
      child.process.kill('SIGKILL');
      await child.ended;
    },
    restart: start,
    stop: async () => {
      await stopChild(child);
      rmSync(folder, { recursive: true });
    },
  };
}

async function startMqttRig(): Promise<SinkRig> {
  const folder = makeFolder();
  const port = await freePort();
  const file = join(folder, 'received.db');
  const broker = makeMosquitto({ folder: join(folder, 'broker'), port });
  await broker.start();
  const child = startChild(process.execPath, [
    builtFile('tests/crash/receiver.js'),
    'mqtt',
    String(port),
    file,
  ]);
  await untilReady(child);
  const settings = {
    kind: 'mqtt',
    url: `mqtt://127.0.0.1:${port}`,
    verifyServer: true,
    inFlightMax: 100,
    deadlineMs: 5_000,
  } as const;
  return {
    makeSink: () => openMqttSink(settings, makeParts()),
    held: () => readTable(file),
    kill: () => broker.kill(),
    restart: async () => {
      await broker.start();
      await sleep(500); // the subscriber comes back by itself
    },
    stop: async () => {
      await stopChild(child);
      await broker.stop();
      rmSync(folder, { recursive: true });
    },
  };
}

/** Files as DuckDB reads them. */
async function readFiles(folder: string, format: 'parquet' | 'csv'): Promise<Held[]> {
  const instance = await DuckDBInstance.create(':memory:');
  const connection = await instance.connect();
  const held: Held[] = [];
  for (const stream of existsSync(folder) ? readdirSync(folder) : []) {
    const from =
      format === 'parquet'
        ? `read_parquet('${folder}/${stream}/*.parquet')`
        : `read_csv('${folder}/${stream}/*.csv')`;
    const result = await connection.runAndReadAll(`SELECT key, revision FROM ${from}`);
    for (const [key, revision] of result.getRows())
      held.push({ stream: stream.split('-')[0]!, key: String(key), revision: Number(revision) });
  }
  connection.closeSync();
  return held;
}

function startFilesRig(format: 'parquet' | 'csv'): Promise<SinkRig> {
  const root = makeFolder();
  const folder = join(root, 'out');
  return Promise.resolve({
    makeSink: () => openFilesSink({ kind: 'files', folder, format, everyS: 1 }, makeParts()),
    held: () => readFiles(folder, format),
    kill: null,
    restart: () => Promise.resolve(),
    stop: () => {
      rmSync(root, { recursive: true });
      return Promise.resolve();
    },
  });
}

describeSink('http', startHttpRig);
describeSink('files in Parquet', () => startFilesRig('parquet'));
describeSink('files in CSV', () => startFilesRig('csv'));
if (hasMosquitto) describeSink('mqtt', startMqttRig);
else console.warn('left out: the sink mqtt, because mosquitto is not installed (apt-get install mosquitto)');
