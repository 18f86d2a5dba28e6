/** Golden messages of the cross-checks: numbers that contradict one another, names that lead nowhere. */
import { describe, expect, test } from 'vitest';
import { parseConfig } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';

function faultsOf(text: string): string[] {
  const result = parseConfig(text, 'plant.yaml');
  return result.ok ? [] : result.problems.map(formatProblem);
}

function warningsOf(text: string): string[] {
  const result = parseConfig(text, 'plant.yaml');
  return result.ok ? result.warnings.map(formatProblem) : ['refused', ...faultsOf(text)];
}

/** Eight sound motors, so that a case shows its own fault only. */
const MOTORS = 'motors:\n  pump-{1..8}:\n    positions: { de: {} }\n';
const SITE = `site: works\n${MOTORS}`;

describe('the plant as a whole', () => {
  test('an open listener needs logins', () => {
    expect(faultsOf(`${SITE}mqtt: { listen: "0.0.0.0:1883" }\n`)).toEqual([
      'plant.yaml:5:17 mqtt.listen: expected a loopback address such as 127.0.0.1, because this listener asks nobody for a ' +
        'password, found "0.0.0.0:1883" (configure mqtt.users to open it to the network)',
    ]);
    const users = 'users: [{ name: a, passwordEnv: A, role: reader }]';
    expect(faultsOf(`${SITE}mqtt: { listen: "0.0.0.0:1883", ${users} }\n`)).toEqual([]);
    expect(faultsOf(`${SITE}mqtt: { listen: "[::1]:1883" }\n`)).toEqual([]);
    expect(faultsOf(`${SITE}http: { listen: "0.0.0.0:8080" }\n`)).toHaveLength(1);
    expect(faultsOf(`${SITE}http: { listen: "127.0.0.1:1883" }\n`)).toHaveLength(1);
  });

  test('roles name what they may publish for, and only that', () => {
    const users = [
      '{ name: a, passwordEnv: A, role: device }',
      '{ name: b, passwordEnv: B, role: drive, motors: ["pump-{1..9}"] }',
      '{ name: b, passwordEnv: C, role: reader, sensors: [pump-1/de] }',
    ];
    expect(faultsOf(`${SITE}mqtt:\n  users:\n    - ${users.join('\n    - ')}\n`)).toEqual([
      'plant.yaml:7:7 mqtt.users[0].sensors: expected the sensors that this device may publish for, found none',
      'plant.yaml:8:56 mqtt.users[1].motors[0]: expected a motor of this file, found "pump-9"; did you mean "pump-1"?',
      'plant.yaml:9:15 mqtt.users[2].name: expected every login name once, found "b" again',
      'plant.yaml:9:48 mqtt.users[2].sensors: expected no sensors for the role reader, found a list',
    ]);
  });

  test('records outlive the time in which they may be revised', () => {
    expect(faultsOf(`${SITE}storage: { retention: { incrementsDays: 7 } }\n`)).toEqual([
      'plant.yaml:5:41 storage.retention.incrementsDays: expected at least a day more than reviseHorizonDays, 8, found 7',
    ]);
  });

  test('alarms of a zone need a name that is theirs alone', () => {
    const sensor = 'positions: { de: {} }';
    const named = `site: works\nmotors:\n  zone-hall: { zone: hall, ${sensor} }\n  "pump-{1..4}": { zone: hall, ${sensor} }\n`;
    expect(faultsOf(named)).toEqual([
      'plant.yaml:3:3 motors.zone-hall: expected a name of its own: the alarms of the zone have this one, found "zone-hall"',
    ]);
    const long = 'h'.repeat(36);
    expect(faultsOf(`site: works\nmotors: { "pump-{1..4}": { zone: ${long}, ${sensor} } }\n`)).toEqual([
      `plant.yaml:2:28 motors.pump-{1..4}.zone: expected a zone of at most 35 characters, found 36 characters`,
    ]);
  });

  test('a zone too small for common bursts is a warning', () => {
    expect(warningsOf('site: works\nmotors: { pump-1: { zone: hall, positions: { de: {} } } }\n')).toEqual([
      'plant.yaml:2:21 motors.pump-1.zone: expected at least 4 motors in a zone, found 1 in "hall" ' +
        '(with fewer, bursts common to the zone cannot be assessed and count as running)',
    ]);
  });
});

describe('motors', () => {
  const motor = (body: string): string => `${SITE}  mill:\n    ${body}\n`;

  test('a counter that wraps within the reporting interval is refused unless a maximum rate proves it', () => {
    expect(faultsOf(motor('positions: { de: { counterBits: 16 } }'))).toEqual([
      'plant.yaml:6:37 motors.mill.positions.de.counterBits: expected a counter that does not wrap within the reporting ' +
        'interval of 10 s, found 16 bits, which at 50,000 discharges a second wrap in 1,311 ms ' +
        '(if the sensor never counts faster, configure maxRatePerS of at most 6,553, better 2,080)',
    ]);
    expect(warningsOf(motor('positions: { de: { counterBits: 16, maxRatePerS: 2000 } }'))).toEqual([]);
    expect(warningsOf(motor('positions: { de: { counterBits: 16, maxRatePerS: 5000 } }'))).toEqual([
      expect.stringContaining('does not wrap within the longest usable interval of 31.5 s, found 16 bits'),
    ]);
    expect(warningsOf(motor('positions: { de: { counterBits: 32 } }'))).toEqual([]);
  });

  test('a rate alarm states its setpoint, its reason and a deadband below it', () => {
    expect(
      faultsOf(
        motor(
          '{ positions: { de: {} }, alarms: { rate-high: { setpointPerMin: 100, deadbandPerMin: 150 } } }',
        ),
      ),
    ).toEqual([
      'plant.yaml:6:40 motors.mill.alarms.rate-high.rationale: expected the reason for the setpoint, found nothing ' +
        '(no published count is safe, so the site says why it chose this one)',
    ]);
    expect(
      faultsOf(
        motor(
          '{ positions: { de: {} }, alarms: { rate-high: { setpointPerMin: 100, deadbandPerMin: 150, rationale: r } } }',
        ),
      ),
    ).toEqual([
      'plant.yaml:6:90 motors.mill.alarms.rate-high.deadbandPerMin: expected a deadband below the setpoint of 100/min, found 150/min ' +
        '(the alarm returns below setpoint - deadband, which no rate ever is)',
    ]);
    expect(
      faultsOf(motor('{ positions: { de: {} }, alarms: { rate-high: {} } }')).map(
        (line) => line.split(':')[3],
      ),
    ).toEqual([
      ' expected a setpoint in discharges a minute, found nothing',
      ' expected the reason for the setpoint, found nothing (no published count is safe, so the site says why it chose this one)',
    ]);
  });

  test('a setpoint that no count could decide is refused with the one that could', () => {
    const alarm = (setpoint: number, more = '') =>
      motor(
        `{ positions: { de: {} }, alarms: { rate-high: { setpointPerMin: ${setpoint}, deadbandPerMin: 0, rationale: r${more} } } }`,
      );
    // one alarm, 4,320 looks a month: -ln(1/4320) / 10 min = 0.837/min
    expect(faultsOf(alarm(0.83))).toEqual([
      'plant.yaml:6:69 motors.mill.alarms.rate-high.setpointPerMin: expected a setpoint of at least 0.91/min, the smallest ' +
        'that the counts of 10 min can resolve, found 0.83/min (a longer windowMs resolves smaller ones)',
    ]);
    expect(faultsOf(alarm(0.91))).toEqual([]);
    expect(faultsOf(alarm(0.83, ', windowMs: 1200000'))).toEqual([]);
  });

  test('a setpoint beyond what is believed or what the dead time shows could never raise', () => {
    const alarm = (position: string) =>
      motor(
        `{ positions: { de: ${position} }, alarms: { rate-high: { setpointPerMin: 60000, rationale: r } } }`,
      );
    expect(faultsOf(alarm('{ maxRatePerS: 1000 }'))).toEqual([
      expect.stringContaining(
        'a setpoint below 60,000/min at de, the highest that is believed, found 60,000/min',
      ),
    ]);
    expect(faultsOf(alarm('{ maxRatePerS: 2000, deadTimeUs: 1000 }'))).toEqual([
      expect.stringContaining('a setpoint below 60,000/min at de, where its dead time hides half'),
    ]);
    expect(faultsOf(alarm('{ maxRatePerS: 1001 }'))).toEqual([]);
  });

  test('the higher alarm lies higher', () => {
    const alarms =
      'rate-high: { setpointPerMin: 100, rationale: r }, rate-high-high: { setpointPerMin: 90, rationale: r }';
    expect(faultsOf(motor(`{ positions: { de: {} }, alarms: { ${alarms} } }`))).toEqual([
      expect.stringContaining('expected a setpoint above that of rate-high, 100/min, found 90/min'),
    ]);
  });

  test('alarms and couplings name what exists', () => {
    const alarms = 'rate-high: { setpointPerMin: 100, rationale: r, positions: [nd] }';
    expect(
      faultsOf(motor(`{ positions: { de: {}, nde: { coupledTo: [pmp-1] } }, alarms: { ${alarms} } }`)),
    ).toEqual([
      'plant.yaml:6:47 motors.mill.positions.nde.coupledTo[0]: expected a motor of this file, found "pmp-1"; did you mean "pump-1"?',
      `plant.yaml:6:129 motors.mill.alarms.rate-high.positions[0]: expected one of the motor's positions de, nde, found "nd"; did you mean "nde"?`,
    ]);
  });

  test('a slow heartbeat is a warning, a heartbeat of nobody a fault', () => {
    expect(warningsOf(motor('{ positions: { de: {} }, drive: { heartbeatMs: 60000 } }'))).toEqual([
      expect.stringContaining(
        'motors.mill.drive.heartbeatMs: expected a heartbeat of at most 45,000 ms, found 60,000',
      ),
    ]);
    expect(
      faultsOf(motor('{ positions: { de: {} }, drive: { heartbeatMs: 10000, runState: none } }')),
    ).toHaveLength(1);
  });

  test('reserved and unfit names', () => {
    expect(faultsOf(`${SITE}  drive: { positions: { de: {} } }\n`)).toEqual([
      'plant.yaml:5:3 motors.drive: expected a name other than drive, alarm, gateway, journal, found "drive"',
    ]);
    expect(faultsOf(motor('positions: { alarm: {} }'))).toHaveLength(1);
    expect(faultsOf(`${SITE}  Pump-9: { positions: { de: {} } }\n`)).toHaveLength(1);
    expect(faultsOf(motor('positions: { drive-end-upper-outboard: {} }'))).toHaveLength(0);
    expect(faultsOf(motor('positions: { drive-end-upper-outboard-bearing: {} }'))).toEqual([
      expect.stringContaining('40 letters'),
    ]);
  });

  test('every motor once, after expansion too', () => {
    expect(faultsOf(`${SITE}  pump-3: { positions: { de: {} } }\n`)).toEqual([
      'plant.yaml:5:3 motors.pump-3: expected every motor once, found "pump-3", which "pump-{1..8}" holds already',
    ]);
  });

  test('a motor has a sensor', () => {
    expect(faultsOf(motor('zone: hall'))).toEqual([
      'plant.yaml:5:3 motors.mill.positions: expected at least one position, found none (name each sensor, such as positions: { de: {} })',
    ]);
  });

  test('a template that nobody names is a warning', () => {
    expect(warningsOf(`${SITE}templates: { spare: {} }\n`)).toEqual([
      'plant.yaml:5:14 templates.spare: expected a motor that names this template, found none',
    ]);
  });

  test('a fault in a template is told once, at the template', () => {
    const text =
      'site: works\ntemplates:\n  t: { positions: { de: { counterBits: 16 } } }\nmotors:\n  a-{1..5}: { template: t }\n  b: { template: t }\n';
    expect(faultsOf(text)).toEqual([
      expect.stringMatching(/^plant\.yaml:3:40 templates\.t\.positions\.de\.counterBits: /),
    ]);
  });
});
