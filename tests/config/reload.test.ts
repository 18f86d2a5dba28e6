/** Secrets by reference, reload, and what a change says. */
import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { describeChange, listChanges, reloadConfig } from '../../src/config/change.js';
import type { Config } from '../../src/config/config.js';
import { loadConfig, parseConfig } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';
import { resolveSecrets } from '../../src/config/secrets.js';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-config-'));
});
afterEach(() => {
  rmSync(folder, { recursive: true, force: true });
});

const MOTORS = 'site: works\nmotors:\n  pump-{1..4}: { positions: { de: {} } }\n';

function write(text: string): string {
  const path = join(folder, 'site.yaml');
  writeFileSync(path, text);
  return path;
}

function load(text: string): Config {
  const result = loadConfig(write(text));
  if (!result.ok) throw new Error(result.problems.map(formatProblem).join('\n'));
  return result.config;
}

describe('secrets', () => {
  const USERS = `${MOTORS}mqtt:\n  users:\n    - { name: a, role: reader, passwordFile: secrets-a }\n    - { name: b, role: reader, passwordEnv: B_PASSWORD }\n`;

  test('from a file beside the configuration and from the environment', () => {
    const config = load(USERS);
    writeFileSync(join(folder, 'secrets-a'), 'open sesame\n', { mode: 0o600 });
    const result = resolveSecrets(config, { B_PASSWORD: 'b' });
    expect(result).toEqual({
      ok: true,
      passwords: new Map([
        ['a', 'open sesame'],
        ['b', 'b'],
      ]),
      warnings: [],
    });
  });

  test('what is missing is named with what to do', () => {
    const result = resolveSecrets(load(USERS), {});
    expect(result.ok ? [] : result.problems.map((line) => line.replace(folder, 'FOLDER'))).toEqual([
      'user "a": FOLDER/secrets-a cannot be read (ENOENT): create it with one line, the password',
      'user "b": environment variable B_PASSWORD is not set or empty: set it to the password',
    ]);
  });

  test('empty and many-lined files are refused', () => {
    const config = load(USERS);
    for (const content of ['', '\n', 'one\ntwo\n', 'x'.repeat(5_000)]) {
      writeFileSync(join(folder, 'secrets-a'), content);
      expect(resolveSecrets(config, { B_PASSWORD: 'b' }).ok).toBe(false);
    }
  });

  test('a file that everyone may read is a warning', () => {
    const config = load(USERS);
    writeFileSync(join(folder, 'secrets-a'), 'x');
    chmodSync(join(folder, 'secrets-a'), 0o644);
    const result = resolveSecrets(config, { B_PASSWORD: 'b' });
    expect(result.ok && result.warnings).toEqual([expect.stringContaining('may be read by everyone')]);
  });

  test('without logins there is nothing to look up', () => {
    expect(resolveSecrets(load(MOTORS), {})).toEqual({ ok: true, passwords: new Map(), warnings: [] });
  });

  test('a change of the reference changes the revision, the password itself does not stand anywhere', () => {
    const config = load(USERS);
    expect(JSON.stringify(config)).not.toContain('sesame');
  });
});

describe('reload', () => {
  test('a faulty file leaves the running configuration alone and says why', () => {
    const current = load(MOTORS);
    const result = reloadConfig(current, write(`${MOTORS}gate: { capMs: no }\n`));
    expect(result.ok ? [] : result.problems.map(formatProblem)).toEqual([
      expect.stringContaining('gate.capMs'),
    ]);
  });

  test('a sound file comes with its plan and what it changes', () => {
    const current = load(MOTORS);
    const result = reloadConfig(
      current,
      write(`${MOTORS}gate: { capMs: 60000 }\nmqtt: { clientsMax: 10 }\n`),
    );
    expect(result.ok && result.changes).toEqual([
      { path: 'gate.capMs', before: '120000', after: '60000', needsRestart: false },
      { path: 'mqtt.clientsMax', before: '4000', after: '10', needsRestart: true },
    ]);
    expect(result.ok && result.plan.gate.capMs).toBe(60_000);
  });

  test('what is taken over at a start only differs until then, also after the file was read again', () => {
    const sink = (url: string): string =>
      `${MOTORS}sinks: [{ name: desk, kind: http, url: "${url}", streams: [journal] }]\n`;
    const started = load(sink('http://127.0.0.1:1/a'));
    const reread = load(sink('http://127.0.0.1:1/b'));
    expect(listChanges(reread, reread, started)).toEqual([
      {
        path: 'sinks.desk.url',
        before: '"http://127.0.0.1:1/a"',
        after: '"http://127.0.0.1:1/b"',
        needsRestart: true,
      },
    ]);
    expect(listChanges(reread, started, started)).toEqual([]);
  });

  test('the same meaning in other words is no change', () => {
    const current = load(MOTORS);
    const same = load(`# the same\n${MOTORS}gate: { capMs: 120000 }\n`);
    expect(listChanges(current, same)).toEqual([]);
    expect(describeChange(current, same)).toBe('');
  });

  test('the description names motors whole and settings by path', () => {
    const after = load(
      'site: works\nmotors:\n  pump-{2..4}: { positions: { de: { intervalMs: 5000, reorderWaitMs: 15000 } } }\n  fan-1: { positions: { de: {} } }\nhttp: { listen: "127.0.0.1:9000" }\n',
    );
    expect(describeChange(load(MOTORS), after).split('\n')).toEqual([
      'motor fan-1 added',
      'motor pump-1 removed',
      'http.listen.port: 8080 -> 9000 (after a restart)',
      'motors.pump-2.positions.de.intervalMs: 10000 -> 5000',
      'motors.pump-3.positions.de.intervalMs: 10000 -> 5000',
      'motors.pump-4.positions.de.intervalMs: 10000 -> 5000',
    ]);
  });

  test('a long description ends in a count', () => {
    const [a, b] = ['10000', '20000'].map((ms) => {
      const result = parseConfig(
        `site: works\nmotors:\n  p-{1..60}: { positions: { de: { intervalMs: ${ms}, reorderWaitMs: 1 } } }\n`,
        'x.yaml',
      );
      if (!result.ok) throw new Error('sound file refused');
      return result.config;
    });
    if (a === undefined || b === undefined) throw new Error('two files');
    const lines = describeChange(a, b).split('\n');
    expect([lines.length, lines.at(-1)]).toEqual([41, 'and 20 more']);
  });
});
