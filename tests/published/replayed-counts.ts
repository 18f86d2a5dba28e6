/**
 * Takes published counts through the program: each count becomes the difference of two readings of a cumulative counter, the readings a
 * capture, the capture a store by `tallypost replay`, and the store a table by `tallypost export`. What a test then works out from the
 * table has passed through decoding, order, counter, run state, gate, windows and SQLite.
 */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { runTallypost } from '../cli/recorder.js';

/** An hour that every period begins with. */
export const BEGIN = Date.UTC(2026, 2, 2, 6, 0, 0);

/** 16 bits, so that a counter that begins near the top wraps on the way. */
const MODULUS = 65_536;

export interface CountSeries {
  readonly motor: string;
  /** one per interval, in the order of time */
  readonly counts: readonly number[];
  /** time between two readings: what the unit of time of the publication becomes */
  readonly intervalMs: number;
  /** reading of the counter before the first interval, below 65,536 */
  readonly firstReading: number;
  /** alarms of the motor, as YAML in braces; absent: those that are on unless switched off */
  readonly alarms?: string;
}

/** A line of an export: column to value. */
export type ExportLine = Readonly<Record<string, unknown>>;

function writeConfig(series: readonly CountSeries[]): string {
  const motors = series.flatMap(({ motor, intervalMs, alarms = '{}' }) => [
    `  ${motor}:`,
    '    drive: { heartbeatMs: 60000 }',
    `    positions: { de: { intervalMs: ${intervalMs}, counterBits: 16, maxRatePerS: 10, reorderWaitMs: 5000 } }`,
    `    alarms: ${alarms}`,
  ]);
  return ['site: archive', 'timeZone: Etc/UTC', 'motors:', ...motors, ''].join('\n');
}

/** Lines of a capture in the order of arrival: a drive that runs and modulates throughout, and the readings. */
function writeCapture(series: readonly CountSeries[]): string {
  const lines: { arrived: number; text: string }[] = [];
  const add = (arrived: number, client: string, topic: string, payload: object, retain: boolean): void => {
    const text = JSON.stringify({ arrived, client, topic: `archive/in/${topic}`, payload, retain });
    lines.push({ arrived, text });
  };
  for (const { motor, counts, intervalMs, firstReading } of series) {
    add(BEGIN, `drive-${motor}`, `${motor}/drive/presence`, { online: true }, true);
    for (let at = BEGIN; at <= BEGIN + counts.length * intervalMs + 60_000; at += 60_000) {
      const state = { state: 'running', modulating: true, at, since: BEGIN - 3_600_000 };
      add(at, `drive-${motor}`, `${motor}/drive/state`, state, true);
    }
    let total = firstReading;
    [0, ...counts].forEach((pulses, seq) => {
      total += pulses;
      const at = BEGIN + seq * intervalMs;
      const reading = { device: `SN-${motor}`, boot: 7, seq, count: total % MODULUS, at };
      add(at + 40, `sensor-${motor}`, `${motor}/de/reading`, reading, false);
    });
  }
  lines.sort((a, b) => a.arrived - b.arrived);
  return lines.map(({ text }) => `${text}\n`).join('');
}

/** A store that was filled by a replay, and its exports. */
export class ReplayedCounts {
  readonly #folder: string;

  private constructor(folder: string) {
    this.#folder = folder;
  }

  /** Replays series of different motors into a new store. Throws what the command says if it fails or the ledger does not balance. */
  static async replay(...series: CountSeries[]): Promise<ReplayedCounts> {
    const folder = mkdtempSync(join(tmpdir(), 'published-counts-'));
    const config = join(folder, 'archive.yaml');
    const capture = join(folder, 'series.ndjson');
    writeFileSync(config, writeConfig(series));
    writeFileSync(capture, writeCapture(series));
    const found = await runTallypost('replay', '--config', config, '--data', join(folder, 'data'), capture);
    if (found.code !== 0) throw new Error(`replay: ${found.code} ${found.err}`);
    return new ReplayedCounts(folder);
  }

  /** Lines of `tallypost export TABLE --sensor MOTOR/de …`. Throws what the command says if it fails. */
  async export(table: string, motor: string, ...options: string[]): Promise<ExportLine[]> {
    const data = join(this.#folder, 'data');
    const found = await runTallypost('export', table, '--data', data, '--sensor', `${motor}/de`, ...options);
    if (found.code !== 0) throw new Error(`export: ${found.code} ${found.err}`);
    return found.out
      .split('\n')
      .filter((line) => line !== '')
      .map((line) => JSON.parse(line) as ExportLine);
  }

  /** Running pulses and seconds of each period, in the order of time. */
  async runningBlocks(motor: string, period: string): Promise<{ pulses: number; exposure: number }[]> {
    const lines = await this.export('rollups', motor, '--period', period);
    return lines.map((line) => ({
      pulses: Number(line['running_pulses']),
      exposure: Number(line['running_ms']) / 1000,
    }));
  }

  remove(): void {
    rmSync(this.#folder, { recursive: true, force: true });
  }
}
