/** The files in config/: they are read, they say what they claim, and the JSON Schema is the current one. */
import { readFileSync, writeFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { configJsonSchema } from '../../src/config/json-schema.js';
import { loadConfig } from '../../src/config/parse.js';
import type { ConfigResult } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';
import { countCommitsPerDay, summariseConfig } from '../../src/config/summary.js';

function load(path: string): Extract<ConfigResult, { ok: true }> {
  const result = loadConfig(path);
  if (!result.ok) throw new Error(result.problems.map(formatProblem).join('\n'));
  return result;
}

describe('tarn-hollow', () => {
  test('is the demo plant: six boosters, two fans, no warnings', () => {
    const { plan, warnings } = load('config/tarn-hollow.yaml');
    expect(warnings).toEqual([]);
    expect([...plan.motors.keys()]).toEqual([
      'booster-1',
      'booster-2',
      'booster-3',
      'booster-4',
      'booster-5',
      'booster-6',
      'fan-a',
      'fan-b',
    ]);
    expect(plan.sensors.size).toBe(14);
  });

  test('the summary says what it would listen to', () => {
    const { config, plan } = load('config/tarn-hollow.yaml');
    expect(summariseConfig(config).split('\n')).toEqual([
      `Site tarn-hollow, times in Europe/London, configuration ${plan.revision}`,
      'MQTT on 127.0.0.1:1883, no logins: anyone on this machine may publish and subscribe',
      'HTTP on 127.0.0.1:8080, no logins: anyone on this machine may read and act',
      '8 motors with 14 sensors in 1 zone',
      '',
      'Listens to:',
      '  booster-{1..6} (6 motors): zone hall, duty group boosters',
      '    tarn-hollow/in/booster-{1..6}/de/reading  every 10 s (usable to 31.5 s), 32 bits, at most 24,000/s',
      '    tarn-hollow/in/booster-{1..6}/nde/reading  every 10 s (usable to 31.5 s), 32 bits, at most 24,000/s',
      '    tarn-hollow/in/booster-{1..6}/drive/state  on change and every 10 s',
      '  fan-{a,b} (2 motors): zone hall, duty group fans',
      '    tarn-hollow/in/fan-{a,b}/de/reading  every 10 s (usable to 31.5 s), 16 bits, at most 2,000/s',
      '    tarn-hollow/in/fan-{a,b}/drive/state  on change, while its reporter is present',
      '',
      'Condition bins:',
      '  boosters: speed in 3 bins, edges 900, 1200, deadband 20; load in 2 bins, edges 50, deadband 4',
      '',
      'Alarms:',
      '  rate alarms judge by limits at 99.998071 %; with the deviation alarms at most 1 a month are false over the plant',
      '  booster-{1..6}: de-rate-high, nde-rate-high  low, above 120/min, deadband 20/min, over 10 min, after 5 min, returns after 10 min of running',
      '  booster-{1..6}: no-readings (after 5 min), run-state-lost (after 1 min), counter-unknown (at once), rejecting (after 1 min), saturated (after 5 min), clock-off (after 10 min)',
      '  booster-{1..6}: above-baseline (2 times), above-peers (2 times), rising, silent-in-company, background-high (3 times)',
      '  fan-{a,b}: no-readings (after 5 min), run-state-lost (after 1 min), counter-unknown (at once), rejecting (after 1 min), saturated (after 5 min), clock-off (after 10 min)',
      '  fan-{a,b}: above-baseline (2 times), above-peers (never: 4 motors on one duty are needed, not 2), rising, silent-in-company, background-high (3 times)',
      '',
      'Disk: at most 120,960 synced writes a day for readings, as readings come',
    ]);
  });

  test('writes per day follow the commit interval', () => {
    const { config } = load('config/tarn-hollow.yaml');
    const slower = { ...config, storage: { ...config.storage, minCommitIntervalMs: 1_000 } };
    expect([countCommitsPerDay(config), countCommitsPerDay(slower)]).toEqual([120_960, 86_400]);
  });
});

test('minimal is enough to start with', () => {
  const { plan } = load('config/minimal.yaml');
  expect([...plan.sensors.keys()]).toEqual(['pump-1/de']);
});

test('without rate alarms the summary does not speak of their limits', () => {
  const { config } = load('config/minimal.yaml');
  const said = summariseConfig(config);
  expect(said).toContain(
    '  no rate alarms: no setpoint is configured; of the deviation alarms at most one in 20 years is false',
  );
  expect(said).toContain('silent-in-company (never: it has no sisters)');
  expect(said).not.toContain('Condition bins');
});

test('the JSON Schema for editors is what the schema command writes now', () => {
  const path = 'config/tallypost.schema.json';
  const text = `${JSON.stringify(configJsonSchema(), null, 2)}\n`;
  if (process.env.UPDATE_GOLDEN === '1') writeFileSync(path, text);
  expect(readFileSync(path, 'utf8'), 'regenerate: UPDATE_GOLDEN=1 npx vitest run tests/config').toBe(text);
});

test('every key of the file is described in the JSON Schema', () => {
  const undescribed: string[] = [];
  const visit = (node: unknown, path: string): void => {
    if (typeof node !== 'object' || node === null) return;
    for (const [key, inner] of Object.entries(
      (node as { properties?: Record<string, unknown> }).properties ?? {},
    )) {
      // a part that is stated once elsewhere has its description there
      if (!/"(description|\$ref)"/.test(JSON.stringify(inner))) undescribed.push(`${path}.${key}`);
    }
    for (const [key, inner] of Object.entries(node)) visit(inner, `${path}.${key}`);
  };
  visit(configJsonSchema(), '');
  expect(undescribed).toEqual([]);
});
