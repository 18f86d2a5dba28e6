/** The section `sinks`: what is wrong with it is told with its place, and no secret stands in it. */
import { expect, test } from 'vitest';
import { loadConfig, parseConfig } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';
import { summariseConfig } from '../../src/config/summary.js';

const MOTORS = 'motors:\n  pump-{1..8}:\n    positions: { de: {} }\n';

function check(sinks: string): { problems: string[]; warnings: string[] } {
  const result = parseConfig(`site: works\n${MOTORS}sinks:\n${sinks}`, 'plant.yaml');
  return result.ok
    ? { problems: [], warnings: result.warnings.map(formatProblem) }
    : { problems: result.problems.map(formatProblem), warnings: [] };
}

test('the templates are valid', () => {
  const result = loadConfig('config/sinks.yaml');
  expect(result.ok && result.config.sinks.map(({ kind }) => kind)).toEqual([
    'mqtt',
    'http',
    'files',
    'postgres',
    'sparkplug',
  ]);
});

test('the summary says where records go, and after how much waiting they are given up', () => {
  const result = loadConfig('config/sinks.yaml');
  const said = result.ok ? summariseConfig(result.config).split('\n') : [];
  const first = said.indexOf('Forwards to:');
  expect(said.slice(first, first + 7)).toEqual([
    'Forwards to:',
    '  plant-broker: mqtt, mqtts://broker.tarn-hollow.example:8883; rollups of 1m, 10m, 1h; transients; alarms; journal; manifests; given up after 30 d or 256 MiB of backlog',
    '  historian: http, https://historian.tarn-hollow.example/events; rollups of 1m, 10m, 1h; manifests; given up after 30 d or 256 MiB of backlog',
    '  plant-files: files, ../data/files; rollups of 10m, 1h; transients; alarms; journal; manifests; given up after 30 d or 256 MiB of backlog',
    '  plant-db: postgres, postgresql://db.tarn-hollow.example:5432/plant; rollups of 1m, 10m, 1h; transients; alarms; journal; manifests; given up after 30 d or 256 MiB of backlog',
    '  control: sparkplug, mqtts://broker.tarn-hollow.example:8883; rollups of 1m, 1h; transients; alarms; journal; manifests; given up after 30 d or 256 MiB of backlog',
    '',
  ]);
});

test('defaults are filled in', () => {
  const result = parseConfig(
    `site: works\n${MOTORS}sinks:\n  - { name: a, kind: files, folder: out }\n`,
    'plant.yaml',
  );
  expect(result.ok && result.config.sinks[0]).toMatchObject({
    ...{ format: 'parquet', periods: ['1m', '10m', '1h'], backlogPerS: 2_000, deadlineMs: 15_000 },
  });
});

test.each([
  [
    '  - { name: a, kind: files, foldr: out }\n',
    /^plant\.yaml:6:29 sinks\[0\]\.foldr: .*did you mean "folder"\?/,
  ],
  [
    '  - { name: a, kind: ftp }\n',
    /^plant\.yaml:6:22 sinks\[0\]\.kind: expected a sink whose kind is one of mqtt, http, files/,
  ],
  [
    '  - { name: a, kind: mqtt, url: "broker:1883" }\n',
    /sinks\[0\]\.url: expected an address such as mqtts:/,
  ],
  [
    '  - { name: a, kind: mqtt, url: "mqtt://u:p@h" }\n',
    /without a login in it, found a text that is not shown/,
  ],
  ['  - { name: a, kind: http, url: "https://h/", password: x1 }\n', /expected passwordFile or passwordEnv/],
  ['  - { name: a, kind: http, url: "https://h/", passwordEnv: X }\n', /expected a user beside the password/],
  [
    '  - { name: a, kind: http, url: "https://h/", tokenEnv: X, tokenFile: y }\n',
    /one of tokenFile and tokenEnv/,
  ],
  [
    '  - { name: a, kind: files, folder: out }\n  - { name: a, kind: files, folder: out/ }\n',
    /sinks\[1\]\.name: expected a name that no other sink has/,
  ],
])('%s', (text, problem) => {
  expect(check(text).problems.join('\n')).toMatch(problem);
});

test('records in the clear to another machine are warned of', () => {
  const { warnings } = check('  - { name: a, kind: mqtt, url: "mqtt://10.0.0.9" }\n');
  expect(warnings.join('\n')).toContain('an encrypted connection to another machine');
});

test('an alarm for each sink that it is behind, as configured', () => {
  const sinks =
    'sinks:\n  - { name: lake, kind: files, folder: out, everyS: 600 }\n  - { name: broker, kind: mqtt, url: mqtt://127.0.0.1 }\n';
  const alarmsOf = (alarms: string) => {
    const result = parseConfig(`site: works\n${MOTORS}${alarms}${sinks}`, 'plant.yaml');
    if (!result.ok) throw new Error(result.problems.map(formatProblem).join('\n'));
    return result.plan.forwardingAlarms!;
  };
  expect(alarmsOf('').map(({ id, limitMs }) => [id, limitMs])).toEqual([
    // it gathers for ten minutes by design
    ['gateway.lake-forwarding-behind', 900_000 + 1_200_000],
    ['gateway.broker-forwarding-behind', 900_000],
  ]);
  const own = alarmsOf('alarms: { forwarding-behind: { limitMs: 600000, priority: high } }\n')[1];
  expect(own).toMatchObject({ limitMs: 600_000, deadbandMs: 300_000, priority: 'high', class: 'gateway' });
  expect(alarmsOf('alarms: { forwarding-behind: false }\n')).toEqual([]);
  expect(() => alarmsOf('alarms: { forwarding-behind: { limitMs: 100000 } }\n')).toThrow(
    'alarms.forwarding-behind: expected a deadbandMs below limitMs, which is 100000, found 300000',
  );
});
