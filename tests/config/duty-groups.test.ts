/** Golden messages of duty groups: edges, deadbands, learning, and groups that nobody is in. */
import { describe, expect, test } from 'vitest';
import { parseConfig } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';

function faultsOf(bins: string): string[] {
  const motors = 'motors:\n  pump-{1..8}: { dutyGroup: pumps, positions: { de: {} } }\n';
  const result = parseConfig(`site: works\n${motors}dutyGroups:\n  pumps: { bins: ${bins} }\n`, 'plant.yaml');
  return result.ok ? [] : result.problems.map(formatProblem);
}

describe('axes', () => {
  test('a sound group is taken as it stands', () => {
    expect(faultsOf('{ speed: { edges: [600, 1200], deadband: 40 }, load: { learn: 3 } }')).toEqual([]);
  });

  test('edges ascend', () => {
    expect(faultsOf('{ speed: { edges: [600, 1200, 900] } }')).toEqual([
      'plant.yaml:5:48 dutyGroups.pumps.bins.speed.edges[2]: expected more than 1,200, found 900 (edges ascend)',
    ]);
    expect(faultsOf('{ speed: { edges: [600, 600] } }')).toHaveLength(1);
  });

  test('an unknown axis gets the nearest known one', () => {
    expect(faultsOf('{ sped: { edges: [600] } }')).toEqual([
      expect.stringMatching(/^plant\.yaml:5:20 dutyGroups\.pumps\.bins\.sped: .*did you mean "speed"\?$/),
    ]);
  });

  test('edges are given or learnt: not both, not neither', () => {
    expect(faultsOf('{ load: { edges: [50], learn: 3 } }')).toEqual([
      'plant.yaml:5:20 dutyGroups.pumps.bins.load: expected either edges or learn, found both',
    ]);
    expect(faultsOf('{ load: { deadband: 3 } }')).toContain(
      'plant.yaml:5:20 dutyGroups.pumps.bins.load: expected either edges or learn, found neither',
    );
    expect(faultsOf('{ load: { edges: [50], since: "2026-01-01T00:00:00Z" } }')).toHaveLength(1);
    expect(faultsOf('{ load: { learn: 1 } }')).toHaveLength(1);
  });

  test('a deadband leaves something of the narrowest bin', () => {
    expect(faultsOf('{ speed: { edges: [600, 650, 1200], deadband: 50 } }')).toEqual([
      'plant.yaml:5:64 dutyGroups.pumps.bins.speed.deadband: expected less than the narrowest bin, 50, found 50',
    ]);
    expect(faultsOf('{ speed: { edges: [600, 650, 1200], deadband: 49 } }')).toEqual([]);
    expect(faultsOf('{ temperature: { edges: [40], deadband: 2 } }')).toHaveLength(1);
    expect(faultsOf('{ load: { learn: 3, deadband: 2 } }')).toHaveLength(1);
  });

  test('more bins than can ever fill are refused', () => {
    const edges = '[10, 20, 30, 40, 50, 60, 70]';
    expect(
      faultsOf(`{ speed: { edges: ${edges} }, load: { edges: ${edges} }, dcLink: { learn: 2 } }`),
    ).toEqual([
      'plant.yaml:5:12 dutyGroups.pumps.bins: expected at most 100 bins over all axes, found 128 ' +
        '(each bin needs about 20 running hours before it can be compared)',
    ]);
  });
});

test('a group that no motor names is a slip', () => {
  const text =
    'site: works\nmotors:\n  pump-{1..8}: { dutyGroup: pumps, positions: { de: {} } }\n' +
    'dutyGroups:\n  pumpz: { bins: { speed: { edges: [600] } } }\n';
  const result = parseConfig(text, 'plant.yaml');
  expect(result.ok ? [] : result.problems.map(formatProblem)).toEqual([
    'plant.yaml:5:3 dutyGroups.pumpz: expected a duty group that a motor names, found "pumpz"; did you mean "pumps"?',
  ]);
});
