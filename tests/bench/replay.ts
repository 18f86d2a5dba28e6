/**
 * `tallypost replay` as its own process on a capture of a fleet: readings per second through core and store, the disk
 * that they take, and the memory on the way.
 */
import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { readCpuSeconds, readMemory, sleep, startChild } from '../support/child.js';
import { builtFile } from '../support/repository.js';
import { proveLedger } from '../support/stored-readings.js';
import { writeCapture } from './capture-file.js';
import { countReadings, type FleetWishes } from './fleet.js';
import { writePlantFile } from './plant-file.js';

export interface ReplayResult {
  readonly sensors: number;
  readonly readings: number;
  readonly seconds: number;
  readonly perSecond: number;
  readonly cores: number | null;
  /** database and its log when the process has ended, all tables and indices */
  readonly diskBytes: number;
  readonly bytesPerReading: number;
  /** resident, every few hundred milliseconds */
  readonly memory: readonly number[];
}

const SITE = 'bench';

/** Start-up of the process is part of the time. Throws when replay or ledger fail. */
export async function measureReplay(
  folder: string,
  wishes: FleetWishes,
  sampleMs: number,
): Promise<ReplayResult> {
  const plant = { site: SITE, motors: wishes.sensors, intervalMs: wishes.intervalMs };
  const configFile = writePlantFile(folder, plant);
  const dataDir = join(folder, 'data');
  const capture = join(folder, 'fleet.ndjson.gz');
  await writeCapture(capture, wishes, SITE);

  const startedAt = performance.now();
  const args = [
    builtFile('src/main.js'),
    'replay',
    '--proof',
    'no',
    '--config',
    configFile,
    '--data',
    dataDir,
    capture,
  ];
  const child = startChild(process.execPath, args);
  const memory: number[] = [];
  let cpu: number | null = null;
  let isOver = false;
  const ended = child.ended.then((end) => {
    isOver = true;
    return end;
  });
  while (!isOver) {
    const sample = readMemory(child.pid);
    if (sample !== null && sample.now > 0) memory.push(sample.now);
    cpu = readCpuSeconds(child.pid) ?? cpu;
    await Promise.race([sleep(sampleMs), ended]);
  }
  const { code } = await ended;
  const seconds = (performance.now() - startedAt) / 1000;
  if (code !== 0) throw new Error(`replay ended with ${code}:\n${child.said()}`);
  await proveLedger(dataDir);

  const readings = countReadings(wishes);
  const diskBytes = folderBytes(dataDir);
  return {
    sensors: wishes.sensors,
    readings,
    seconds,
    perSecond: readings / seconds,
    cores: cpu === null ? null : cpu / seconds,
    diskBytes,
    bytesPerReading: diskBytes / readings,
    memory,
  };
}

export function folderBytes(folder: string): number {
  let bytes = 0;
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    const path = join(folder, entry.name);
    bytes += entry.isDirectory() ? folderBytes(path) : statSync(path).size;
  }
  return bytes;
}
