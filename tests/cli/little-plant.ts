/** One motor for half an hour: stopped, a start at minute two, then 90 pulses a minute; as configuration and capture. */
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';

export const BEGIN = Date.UTC(2026, 2, 2, 6, 0, 0);
const MINUTE_MS = 60_000;
const START_AFTER_MS = 2 * MINUTE_MS;
const PULSES_PER_READING = 15;

const CONFIG = `
site: workshop
timeZone: Europe/London
motors:
  pump-1:
    drive: { heartbeatMs: 10000 }
    positions:
      de: {}
    alarms:
      rate-high:
        setpointPerMin: 60
        rationale: Twice what it counted in its first year.
        action: Take a grease sample.
`;

export interface LittlePlant {
  readonly folder: string;
  readonly config: string;
  readonly capture: string;
  readonly dataDir: string;
  /** pulses between the first and the last reading */
  readonly pulses: number;
}

function driveState(at: number, begin: number): object {
  const startAt = begin + START_AFTER_MS;
  const state = at < startAt ? 'stopped' : at < startAt + 5_000 ? 'starting' : 'running';
  const since = at < startAt ? begin - MINUTE_MS : at < startAt + 5_000 ? startAt : startAt + 5_000;
  return { state, at, since };
}

/** Writes its files into a new folder. `begin`: whole minute; `minutes`: how long it is recorded. */
export function makeLittlePlant(begin = BEGIN, minutes = 30): LittlePlant {
  const startAt = begin + START_AFTER_MS;
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-cli-'));
  const lines: { arrived: number; text: string }[] = [];
  const add = (arrived: number, topic: string, payload: object, retain = false): void => {
    const client = topic.includes('drive') ? 'drive' : 'sensor';
    lines.push({
      arrived,
      text: JSON.stringify({ arrived, client, topic: `workshop/in/pump-1/${topic}`, payload, retain }),
    });
  };
  add(begin, 'drive/presence', { online: true }, true);
  let count = 1000;
  let seq = 0;
  for (let at = begin; at <= begin + minutes * MINUTE_MS; at += 10_000) {
    add(at + 1, 'drive/state', driveState(at, begin), true);
    if (at === startAt) add(at + 5_001, 'drive/state', driveState(at + 5_000, begin), true);
    if (at > startAt) count += PULSES_PER_READING;
    add(at + 20, 'de/reading', { device: 'SN-0412', boot: 3, seq, count, at });
    seq += 1;
  }
  add(begin + 20, 'nobody/reading', { count: -1 });
  lines.sort((a, b) => a.arrived - b.arrived);
  const plant = {
    folder,
    config: join(folder, 'workshop.yaml'),
    capture: join(folder, 'morning.ndjson.gz'),
    dataDir: join(folder, 'data'),
    pulses: count - 1000,
  };
  writeFileSync(plant.config, CONFIG);
  writeFileSync(plant.capture, gzipSync(lines.map(({ text }) => `${text}\n`).join('')));
  return plant;
}
