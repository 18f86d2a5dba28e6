/** The configuration that the simulator writes must be one that the gateway takes without a word. */
import { readdirSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { writeGatewayConfig } from '../../simulator/gateway-config.js';
import { readScenario } from '../../simulator/scenario-file.js';
import { smallPlant } from '../../simulator/small-plants.js';
import { parseConfig } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';

const SCENARIOS = 'config/scenarios';
/** Warnings included. */
const problemsOf = (text: string): string[] => {
  const result = parseConfig(text, 'gateway.yaml');
  return (result.ok ? result.warnings : result.problems).map(formatProblem);
};

describe('the written configuration', () => {
  const files = readdirSync(SCENARIOS).filter((name) => name.endsWith('.yaml'));

  test.each(files)('of %s is accepted', (name) => {
    expect(problemsOf(writeGatewayConfig(readScenario(`${SCENARIOS}/${name}`)))).toEqual([]);
  });

  test('of small plants of every kind is accepted', () => {
    for (let seed = 0; seed < 40; seed++) {
      const problems = problemsOf(writeGatewayConfig(smallPlant(seed, { share: 0.5 }).scenario));
      // so few motors make no zone: that warning is right
      expect(problems.filter((problem) => !problem.includes('motors in a zone'))).toEqual([]);
    }
  });
});
