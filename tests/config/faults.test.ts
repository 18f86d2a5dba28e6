/** Golden messages of text and schema: what a person reads, word for word, for each kind of fault. */
import { describe, expect, test } from 'vitest';
import { loadConfig, parseConfig } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';

function faultsOf(text: string): string[] {
  const result = parseConfig(text, 'plant.yaml');
  return result.ok ? [] : result.problems.map(formatProblem);
}

/** Eight sound motors, so that a case shows its own fault only. */
const MOTORS = 'motors:\n  pump-{1..8}:\n    positions: { de: {} }\n';
const SITE = `site: works\n${MOTORS}`;

describe('keys and values', () => {
  test('a mistyped key is named with its place and the key that was meant', () => {
    expect(faultsOf(`${SITE}gate:\n  beforeEdgeMS: 2000\n`)).toEqual([
      'plant.yaml:6:3 gate.beforeEdgeMS: expected one of beforeEdgeMs, afterRunningMs, afterStoppedMs, capMs, mergeMs, ' +
        'coupledMs, settleMs, settleWaitMs, maxIntervalFactor, found unknown key "beforeEdgeMS"; did you mean "beforeEdgeMs"?',
    ]);
  });

  test('a mistyped required key is one fault, not two', () => {
    expect(faultsOf(`sit: works\n${MOTORS}`)).toEqual([
      expect.stringMatching(/^plant\.yaml:1:1 sit: .* did you mean "site"\?$/),
    ]);
  });

  test('a value out of range says the range and what it found', () => {
    expect(faultsOf(`${SITE}storage: { minCommitIntervalMs: 2000 }\n`)).toEqual([
      'plant.yaml:5:33 storage.minCommitIntervalMs: expected a whole number of milliseconds from 0 to 1,000, found 2000',
    ]);
  });

  test('text where a number belongs', () => {
    expect(faultsOf(`${SITE}common: { tail: small }\n`)).toEqual([
      'plant.yaml:5:17 common.tail: expected a number from 0 to 0.1, found "small"',
    ]);
  });

  test('a wrong word gets the nearest right one', () => {
    const text = SITE.replace('positions:', 'drive: { runState: nonee }\n    positions:');
    expect(faultsOf(text)).toEqual([
      'plant.yaml:4:24 motors.pump-{1..8}.drive.runState: expected one of reported, none, found "nonee"; did you mean "none"?',
    ]);
  });

  test('a time zone is looked up', () => {
    expect(faultsOf(`timeZone: Europe/Londn\n${SITE}`)).toEqual([
      'plant.yaml:1:11 timeZone: expected an IANA time zone, such as Europe/London, found "Europe/Londn"; did you mean "Europe/London"?',
    ]);
    expect(faultsOf(`timeZone: "+05:45"\n${SITE}`)).toHaveLength(1);
    expect(faultsOf(`timeZone: Asia/Kathmandu\n${SITE}`)).toEqual([]);
  });

  test('everything that is missing from an empty file', () => {
    expect(faultsOf('')).toEqual([
      expect.stringMatching(/^plant\.yaml:1:1: expected a mapping with site, .*, found nothing$/),
    ]);
    expect(faultsOf('{}')).toEqual([
      expect.stringMatching(/^plant\.yaml:1:1 site: expected a name .*, found nothing$/),
      'plant.yaml:1:1 motors: expected a mapping of motors, found nothing',
    ]);
  });

  test('keys that are special to the language are just unknown keys', () => {
    expect(faultsOf(`${SITE}__proto__: { site: x }\nconstructor: 1\n`)).toHaveLength(2);
    expect(faultsOf(`site: works\nmotors: { __proto__: { positions: { de: {} } } }\n`)).toHaveLength(1);
  });
});

describe('all faults at once', () => {
  test('in the order of the lines, without follow-ups of what is already said', () => {
    const text = [
      'site: Works',
      'mqtt:',
      '  listen: 1883',
      '  users:',
      '    - { name: gw, passwordEnv: GW, role: drivr, motors: ["pump-{1..4}"] }',
      '    - { name: de, passwordEnv: DE, role: device, sensors: [pump-1/dee] }',
      'templates:',
      '  pump:',
      '    positions: { de: { intervalMS: 5000 } }',
      '    alarms: { rate-high: { setpointPerMin: many, rationale: our own } }',
      'motors:',
      '  pump-{1..4}: { template: pmp }',
      '  fan-1: { template: pump, drive: { heartbeatMs: 1 } }',
    ].join('\n');
    expect(faultsOf(text).map((line) => line.replace(/: expected .*, found/, ' found'))).toEqual([
      'plant.yaml:1:7 site found "Works"',
      'plant.yaml:3:11 mqtt.listen found 1883',
      'plant.yaml:5:42 mqtt.users[0].role found "drivr"; did you mean "drive"?',
      'plant.yaml:6:60 mqtt.users[1].sensors[0] found "pump-1/dee"; did you mean "pump-1/de"?',
      'plant.yaml:9:24 templates.pump.positions.de.intervalMS found unknown key "intervalMS"; did you mean "intervalMs"?',
      'plant.yaml:10:44 templates.pump.alarms.rate-high.setpointPerMin found "many"',
      'plant.yaml:12:28 motors.pump-{1..4}.template found "pmp"; did you mean "pump"?',
      'plant.yaml:13:50 motors.fan-1.drive.heartbeatMs found 1',
    ]);
  });

  test('a mistyped list or mapping does not bring complaints about its absence', () => {
    expect(
      faultsOf(
        'site: works\nmotors: { pump-{1..4}: { positons: { de: {} } } }\n'.replace(
          'pump-{1..4}',
          '"pump-{1..4}"',
        ),
      ),
    ).toHaveLength(1);
    expect(faultsOf(`${SITE}mqtt: { listen: "0.0.0.0:1883", users: everyone }\n`)).toHaveLength(1);
    expect(
      faultsOf(`${SITE}  pump-9: much\n  pump-10: { positions: { de: { coupledTo: [pump-9] } } }\n`),
    ).toHaveLength(1);
  });
});

describe('YAML', () => {
  test('a repeated key is named, and the rest is checked on', () => {
    expect(faultsOf(`${SITE}http: {}\ngate: { capMs: -1 }\nhttp: {}\n`)).toEqual([
      'plant.yaml:6:16 gate.capMs: expected a whole number of milliseconds from 0 to 3,600,000, found -1',
      'plant.yaml:7:1: expected every key once, found "http" a second time',
    ]);
  });

  test('broken text says where', () => {
    expect(faultsOf('site: a: b\n')).toEqual([
      'plant.yaml:1:7: expected valid YAML, found a fault: nested mappings are not allowed in compact mappings',
    ]);
    expect(faultsOf('site: works\n\tmotors: {}\n').length).toBeGreaterThan(0);
    expect(faultsOf('site: works\n---\nsite: two\n').length).toBeGreaterThan(0);
    expect(faultsOf('site: !secret x\n')).toEqual([
      'plant.yaml:1:7: expected valid YAML, found a fault: unresolved tag: !secret',
    ]);
  });

  test('a key that is no word', () => {
    expect(faultsOf(`${SITE}? { a: 1 }\n: 2\n`)).toEqual([
      'plant.yaml:5:3: expected a word as key, found a list or mapping',
    ]);
    expect(faultsOf(`${SITE}: 2\n`)).toHaveLength(1);
  });

  test('braces without quotes in a list get the hint that helps', () => {
    const faults = faultsOf(`${SITE}  fan-1: { positions: { de: { coupledTo: [pump-{1..3}] } } }\n`);
    expect(faults[0]).toContain('put quotes around a name with braces');
  });

  test('aliases work, but do not multiply without end', () => {
    expect(faultsOf('site: works\nmotors:\n  pump-1: &p { positions: { de: {} } }\n  pump-2: *p\n')).toEqual(
      [],
    );
    const levels = Array.from(
      { length: 12 },
      (_, i) =>
        `k${i}: &a${i} [${Array(9)
          .fill(i === 0 ? 'x' : `*a${i - 1}`)
          .join(', ')}]`,
    );
    expect(faultsOf(levels.join('\n'))).toEqual([
      expect.stringMatching(
        /^plant\.yaml:1:1: expected few and resolvable aliases, found excessive alias count/,
      ),
    ]);
    expect(faultsOf('site: *nowhere\n')).toEqual([expect.stringContaining('few and resolvable aliases')]);
  });

  test('brackets without end are refused, not a crash', () => {
    expect(faultsOf('['.repeat(100_000))).toContainEqual(expect.stringContaining('nesting without end'));
  });

  test('size, encoding and absence of the file', () => {
    expect(faultsOf(`# ${'x'.repeat(1_100_000)}`)).toEqual([
      'plant.yaml:1:1: expected at most 1048576 bytes of YAML, found 1100002 bytes',
    ]);
    const missing = loadConfig('config/no-such-file.yaml');
    expect(missing.ok ? [] : missing.problems.map(formatProblem)).toEqual([
      'config/no-such-file.yaml:1:1: expected a readable file, found no such file',
    ]);
    const folder = loadConfig('config');
    expect(folder.ok ? [] : folder.problems.map(formatProblem)).toEqual([
      'config:1:1: expected a readable file, found a directory',
    ]);
  });
});

describe('secrets', () => {
  test('a literal password is refused by name and never repeated', () => {
    const faults = faultsOf(`${SITE}mqtt: { users: [{ name: a, role: reader, password: hunter2 }] }\n`);
    expect(faults).toEqual([
      'plant.yaml:5:42 mqtt.users[0].password: expected passwordFile or passwordEnv, found a literal password ' +
        '(this file ends up in backups and in version control: take the password out and change it)',
    ]);
  });

  test('a password in the place of its variable is not repeated either', () => {
    const faults = faultsOf(`${SITE}mqtt: { users: [{ name: a, role: reader, passwordEnv: "hunter 2" }] }\n`);
    expect(faults).toHaveLength(1);
    expect(faults.join()).not.toContain('hunter');
  });

  test('exactly one reference', () => {
    const both = '{ name: a, role: reader, passwordEnv: A, passwordFile: a }';
    const neither = '{ name: b, role: reader }';
    expect(faultsOf(`${SITE}mqtt: { users: [${both}, ${neither}] }\n`)).toEqual([
      'plant.yaml:5:17 mqtt.users[0]: expected one of passwordFile and passwordEnv, found both',
      'plant.yaml:5:77 mqtt.users[1]: expected one of passwordFile and passwordEnv, found neither',
    ]);
  });
});

describe('long files', () => {
  test('a hundred thousand faults are told in bounded time and number', () => {
    const unknown = Array.from({ length: 20_000 }, (_, i) => `key${i}: 1`).join('\n');
    expect(faultsOf(unknown)).toHaveLength(1_000);
    expect(faultsOf('a: 1\n'.repeat(50_000)).length).toBeLessThan(100);
  });

  test('a sensor coupled to the whole world is refused before it is multiplied out', () => {
    const motors = `site: works\nmotors:\n  "m-{1..10000}": { positions: { de: { coupledTo: ["m-{1..10000}"] } } }\n`;
    expect(faultsOf(motors)).toEqual([
      expect.stringContaining('coupledTo: expected at most 100 motors, found 10000'),
    ]);
  });
});
