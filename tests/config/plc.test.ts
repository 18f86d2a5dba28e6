/** Golden messages of `modbus` and `opcua`: slots that collide, nobody who may log in, doors that stand open. */
import { describe, expect, test } from 'vitest';
import { loadConfig, parseConfig } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';
import { summariseConfig } from '../../src/config/summary.js';

const SITE = 'site: works\nmotors:\n  pump-{1..4}:\n    positions: { de: {} }\n';

function parse(more: string) {
  return parseConfig(`${SITE}${more}`, 'plant.yaml');
}

function faultsOf(more: string): string[] {
  const result = parse(more);
  return result.ok ? [] : result.problems.map(formatProblem);
}

function warningsOf(more: string): string[] {
  const result = parse(more);
  return result.ok ? result.warnings.map(formatProblem) : ['refused', ...faultsOf(more)];
}

describe('modbus', () => {
  test('slots are of motors of the file, each once, and inside the map', () => {
    const slots = 'pump-{1..3}: 1\n    pump-4: 3\n    pump-3: 9\n    pmp-4: 8\n';
    expect(faultsOf(`modbus:\n  slots:\n    ${slots}`)).toEqual([
      'plant.yaml:8:13 modbus.slots.pump-4: expected a slot of its own for every motor, found 3 for pump-4, which pump-3 has',
      'plant.yaml:9:5 modbus.slots.pump-3: expected every motor once, found "pump-3" again',
      'plant.yaml:10:12 modbus.slots.pmp-4: expected a motor of this file, found "pmp-4"; did you mean "pump-4"?',
    ]);
    expect(faultsOf('modbus:\n  slots: { "pump-{1..2}": 1023 }\n')).toEqual([
      'plant.yaml:6:27 modbus.slots.pump-{1..2}: expected a slot up to 1023, found 1024 for pump-2 (each slot has 64 registers of 65,536)',
    ]);
  });

  test('a motor without a slot is named with the next free one, and no slots at all are worth a warning', () => {
    expect(warningsOf('modbus: { slots: { "pump-{1..3}": 2 } }\n')).toEqual([
      'plant.yaml:5:11 modbus.slots: expected a slot for every motor, found none for pump-4 (they are not in the register map; the next free slot is 5)',
    ]);
    expect(warningsOf('modbus: {}\n')).toEqual([
      'plant.yaml:5:1 modbus: expected slots, before a PLC reads, found none (without slots motors are put in the order of the file, and kept in the data directory; "tallypost registers --format slots" prints them)',
    ]);
    expect(warningsOf('modbus: { slots: { "pump-{1..4}": 1 } }\n')).toEqual([]);
  });

  test('an address that others reach, an age that is too short and a position without a place are told', () => {
    const slots = 'slots: { "pump-{1..4}": 1 }';
    expect(
      warningsOf(`modbus: { ${slots}, listen: "0.0.0.0:502", staleMs: 5000, positions: [nde] }\n`),
    ).toEqual([
      expect.stringContaining(
        'modbus.listen: expected an address that only the control system can reach, found "0.0.0.0:502" (Modbus has no logins',
      ),
      expect.stringContaining('modbus.staleMs: expected at least 40 s, found 5 s'),
      expect.stringContaining(
        'modbus.positions: expected a place for every position, found none for pump-1/de, pump-2/de',
      ),
    ]);
    expect(faultsOf('modbus: { wordOrder: ACBD, unitId: 0, positions: [] }\n')).toEqual([
      'plant.yaml:5:22 modbus.wordOrder: expected one of ABCD, CDAB, BADC, DCBA, found "ACBD"',
      'plant.yaml:5:36 modbus.unitId: expected a whole number from 1 to 247, found 0',
      'plant.yaml:5:50 modbus.positions: expected at least one position, found an empty list',
    ]);
  });
});

describe('opcua', () => {
  test('needs somebody who may log in, and passwords by reference', () => {
    expect(faultsOf('opcua: {}\n')).toEqual([
      'plant.yaml:5:1 opcua: expected somebody who may log in, found neither users nor anonymous (name users, or set anonymous: true for reading without a login)',
    ]);
    expect(
      faultsOf(
        'opcua:\n  users:\n    - { name: a, passwordEnv: A }\n    - { name: a, passwordEnv: A }\n    - { name: b }\n    - { name: anonymous, passwordEnv: C }\n',
      ),
    ).toEqual([
      'plant.yaml:8:15 opcua.users[1].name: expected every login name once, found "a" again',
      'plant.yaml:9:7 opcua.users[2]: expected one of passwordFile and passwordEnv, found neither',
      'plant.yaml:10:15 opcua.users[3].name: expected another name: this one is what nobody is called, found "anonymous"',
    ]);
  });

  test('signs and encrypts unless told otherwise, and in the clear is worth a warning', () => {
    const result = parse('opcua: { anonymous: true }\n');
    expect(result.ok && result.config.opcua).toMatchObject({
      ...{
        security: ['sign-encrypt'],
        sessionsMax: 20,
        users: [],
        listen: { host: '127.0.0.1', port: 4840 },
      },
    });
    expect(result.ok && result.config.modbus).toBeNull();
    expect(warningsOf('opcua: { anonymous: true, security: [none] }\n')).toEqual([
      'plant.yaml:5:38 opcua.security[0]: expected sign-encrypt, or sign, found none (messages can be read and changed on the way, and no certificate says who the client is)',
    ]);
  });
});

test('the example of a control system is valid, without a warning, and says what it opens', () => {
  const result = loadConfig('config/control-system.yaml');
  if (!result.ok) throw new Error(result.problems.map(formatProblem).join('\n'));
  expect(result.warnings.map(formatProblem)).toEqual([]);
  const said = summariseConfig(result.config);
  expect(said).toContain('Modbus TCP on 127.0.0.1:1502, read-only, no logins, unit 1, word order ABCD');
  expect(said).toContain('OPC UA on 127.0.0.1:4840, sign-encrypt: anyone (reads)');
});
