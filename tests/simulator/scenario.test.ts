import { describe, expect, test } from 'vitest';
import { parseScenario, readScenario } from '../../simulator/scenario-file.js';
import { ScenarioFileError } from '../../simulator/scenario-problem.js';

function complaints(text: string): readonly string[] {
  try {
    parseScenario(text, 'works.yaml');
  } catch (error) {
    if (error instanceof ScenarioFileError) return error.lines;
    throw error;
  }
  return [];
}

describe('a scenario file', () => {
  test('of one line is a plant with two sensors and nothing wrong', () => {
    const scenario = parseScenario('{ site: works, motors: { pump: } }');
    const pump = scenario.motors.get('pump')!;
    expect([...pump.positions.keys()]).toEqual(['de', 'nde']);
    expect(pump.positions.get('de')!.device.reboots.perDay).toBe(0);
  });

  test('expands braces, takes templates, and lets the narrower name add to the wider', () => {
    const scenario = parseScenario(`
site: works
templates:
  pump: { zone: hall, eachPosition: { device: { intervalMs: 5000 }, discharge: { ratePerMin: 3 } } }
motors:
  pump-{1..3}: { template: pump }
  pump-2: { positions: { de: { discharge: { ratePerMin: 90 } }, nde: } }
  fan-{a,b}:
`);
    expect([...scenario.motors.keys()]).toEqual(['pump-1', 'pump-2', 'pump-3', 'fan-a', 'fan-b']);
    const odd = scenario.motors.get('pump-2')!;
    expect(odd.zone).toBe('hall');
    expect(odd.positions.get('de')!.discharge.ratePerMin).toBe(90);
    expect(odd.positions.get('de')!.device.intervalMs).toBe(5_000);
    expect(odd.positions.get('nde')!.discharge.ratePerMin).toBe(3);
    expect(scenario.motors.get('pump-1')!.positions.get('de')!.discharge.ratePerMin).toBe(3);
  });

  test('says every fault with its place and what was expected', () => {
    const lines = complaints(`site: works
motors:
  pump:
    dooty: { kind: cycle }
    positions:
      de: { device: { counterBits: 24, reboots: { perDai: 3 } } }
network: { dropShare: 2 }
`);
    expect(lines).toHaveLength(4);
    const all = lines.join('\n');
    expect(all).toContain('works.yaml:4:12: motors.pump.dooty: unknown key');
    expect(all).toContain('motors.pump.positions.de.device.counterBits: expected 16, 32 or 53');
    expect(all).toContain('motors.pump.positions.de.device.reboots.perDai: unknown key');
    expect(all).toContain('works.yaml:7:23: network.dropShare:');
  });

  test.each([
    ['site: works\nmotors: {}\n', 'expected at least one motor'],
    ['site: works\nmotors: { drive: }\n', 'no reserved name'],
    ['site: works\nmotors: { "pump-{3..1}": }\n', 'expected braces such as {1..6}'],
    [
      'site: works\nmotors: { pump: { template: pomp } }\n',
      'expected a template of this file (none), found "pomp"',
    ],
    [
      'site: works\nmotors: { pump: { positions: { de: { discharge: { crosstalk: { from: [fan] } } } } } }\n',
      'expected motors of this file, found "fan"',
    ],
    ['site: works\nmotors: [\n', 'works.yaml'],
    ['', 'works.yaml:1:1'],
  ])('refuses %j', (text, expected) => {
    expect(complaints(text).join('\n')).toContain(expected);
  });

  test('that is not there is named', () => {
    expect(() => readScenario('nowhere/works.yaml')).toThrow('nowhere/works.yaml: cannot be read');
  });
});
