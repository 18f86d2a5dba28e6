/** `tallypost rehearse`: here from a store, and by a gateway that runs. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { outcomeBody } from '../../src/api/rehearsal-bodies.js';
import { startStation } from '../../src/cli/station.js';
import { loadConfig } from '../../src/config/parse.js';
import { writeMinuteStore } from '../support/minute-store.js';
import { BEGIN, HOUR_MS, planPlant, writePlant } from '../rehearsal/plants.js';
import { runTallypost } from './recorder.js';

const folder = mkdtempSync(join(tmpdir(), 'tallypost-cli-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const data = join(folder, 'data');
const [running, candidate, gate, broken] = ['running', 'candidate', 'gate', 'broken'].map((name) =>
  join(folder, `${name}.yaml`),
) as [string, string, string, string];
const ID = 'pump-1.de-rate-high';

beforeAll(() => {
  writeFileSync(running, writePlant());
  writeFileSync(candidate, writePlant({ setpointPerMin: 110 }));
  writeFileSync(gate, writePlant({ more: 'gate: { capMs: 1000 }' }));
  writeFileSync(broken, 'site: works\n');
  mkdirSync(data);
  const { revision: configuration } = planPlant();
  writeMinuteStore(data, {
    sensors: [
      {
        sensor: 'pump-1/de',
        at: (minute) => (Math.abs(minute - BEGIN - 32 * HOUR_MS) < 2 * HOUR_MS ? 75 : 40),
      },
    ],
    ...{ from: BEGIN, hours: 72, seed: 5 },
    journal: [
      { at: BEGIN + 31 * HOUR_MS, subject: ID, what: 'raised', configuration },
      { at: BEGIN + 32 * HOUR_MS, subject: ID, what: 'confirmed', who: 'J. Field', configuration },
    ],
  });
});

const rehearse = (...options: string[]) => runTallypost('rehearse', '--data', data, ...options);

describe('from a store', () => {
  it('prints a table and a sentence for each alarm worth one, in 100 columns; 1: an event is missed', async () => {
    const { code, out, err } = await rehearse('--running', running, '--config', candidate, '--from', '0');
    expect([code, err]).toEqual([1, expect.stringMatching(/^warning: [^\n]*zone[^\n]*\n$/)]);
    expect(out).toMatch(/^rehearsed {3}2026-03-02T00:00:00\.000Z to 2026-03-05T00:00:00\.000Z\n/);
    expect(out).toMatch(/\* +pump-1\.de-rate-high +1 \/ 1 \/ 0 +\d/);
    const text = out.replaceAll(/\s+/g, ' ');
    expect(text).toContain(
      'setpointPerMin 60 -> 110): The candidate: raised never. Running: raised once, standing',
    );
    expect(text).toContain('Of 1 that a person acknowledged or confirmed, 1 would be MISSED.');
    expect(text).toContain('sensor pump-2/de has no history');
    expect(text).toContain(
      '- changed by the candidate, and raised by neither (1): pump-2.de-rate-high - unchanged',
    );
    expect(text).toContain('- no-readings: it looks at when readings arrived;');
    for (const line of out.split('\n')) expect(line.length, line).toBeLessThanOrEqual(100);
  });

  it('writes the body of the HTTP interface with --json; 0: nothing is missed', async () => {
    const { code, out } = await rehearse('--running', running, '--config', running, '--from', '0', '--json');
    expect(code).toBe(0);
    const body = outcomeBody.parse(JSON.parse(out));
    expect(body.alarms.every(({ differs, change }) => !differs && change === null)).toBe(true);
    expect(body.events).toHaveLength(1);
  });

  it.each([
    ['a candidate that is not valid', () => ['--running', running, '--config', broken], 1, /broken\.yaml/],
    [
      'a running configuration that is not',
      () => ['--running', broken, '--config', running],
      1,
      /broken\.yaml/,
    ],
    [
      'a candidate that changes the gate',
      () => ['--running', running, '--config', gate],
      2,
      /gate\.capMs would be/,
    ],
    [
      'times the wrong way round',
      () => ['--running', running, '--config', candidate, '--from', '2', '--to', '1'],
      2,
      /before/,
    ],
    [
      'no gateway and no running configuration',
      () => ['--config', candidate],
      2,
      /No gateway runs on .* Name the configuration that ran with --running/,
    ],
  ])('refuses %s', async (_, options, exit, says) => {
    const { code, err } = await rehearse(...options());
    expect(code).toBe(exit);
    expect(err).toMatch(says);
  });
});

it('a running gateway does it against what it runs on, over the same body', async () => {
  const loaded = loadConfig(running);
  if (!loaded.ok) throw new Error('the configuration is not valid');
  const anywhere = { host: '127.0.0.1', port: 0 };
  const station = await startStation({
    ...{ config: loaded.config, plan: loaded.plan, dataDir: data },
    ...{ mqtt: anywhere, http: anywhere, log: pino({ level: 'silent' }) },
  });
  try {
    const http = ['--http', station.http.replace('http://', '')];
    const there = await runTallypost('rehearse', ...http, '--config', candidate, '--from', '0', '--json');
    expect(there.code, there.err).toBe(1);
    const here = await rehearse('--running', running, '--config', candidate, '--from', '0', '--json');
    expect(outcomeBody.parse(JSON.parse(there.out))).toEqual(JSON.parse(here.out));
    const refused = await runTallypost('rehearse', ...http, '--config', gate);
    expect(refused.code).toBe(2);
    expect(refused.err).toContain('gate.capMs would be 1000 instead of 120000');
  } finally {
    await station.stop();
  }
});
