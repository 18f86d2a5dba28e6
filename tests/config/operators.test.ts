/** What the configuration says of operators and of motors that are being set up. */
import { findAdvice } from '../../src/core/alarm-advice.js';
import { describe, expect, test } from 'vitest';
import { parseConfig } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';
import type { Plan } from '../../src/core/plan.js';

function read(text: string): { plan: Plan } {
  const result = parseConfig(text, 'plant.yaml');
  if (!result.ok) throw new Error(result.problems.map(formatProblem).join('\n'));
  return result;
}

const one = (body: string): { plan: Plan } => read(`site: works\nmotors:\n  mill: ${body}\n`);

describe('commissioning', () => {
  const END = '2026-03-02T06:00:00+01:00';
  test.each([
    ['true', { until: null }],
    [`"${END}"`, { until: Date.parse(END) }],
    ['false', undefined],
  ])('%s', (given, planned) => {
    const { plan } = one(`{ positions: { de: {} }, commissioning: ${given} }`);
    expect(plan.motors.get('mill')?.commissioning).toEqual(planned);
  });

  test('of a template holds for its motors, and a motor may differ', () => {
    const { plan } = read(
      'site: works\ntemplates: { new: { commissioning: true, positions: { de: {} } } }\n' +
        'motors: { mill: { template: new }, fan: { template: new, commissioning: false } }\n',
    );
    expect(plan.motors.get('mill')?.commissioning).toEqual({ until: null });
    expect(plan.motors.get('fan')?.commissioning).toBeUndefined();
  });

  test.each(['soon', '2026-03-02', '1'])('%s is refused where it stands', (given) => {
    const text = `site: works\nmotors:\n  mill:\n    commissioning: ${given}\n    positions: { de: {} }\n`;
    const result = parseConfig(text, 'plant.yaml');
    const said = result.ok ? '' : result.problems.map(formatProblem).join('\n');
    expect(said).toContain('plant.yaml:4:');
    expect(said).toContain('true, false, or the end as a time');
  });
});

test('the longest shelf is a day unless the site says otherwise', () => {
  expect(one('{ positions: { de: {} } }').plan.shelfMaxMs).toBe(86_400_000);
  const { plan } = read(
    'site: works\nalarms: { shelfHoursMax: 1.5 }\nmotors: { mill: { positions: { de: {} } } }\n',
  );
  expect(plan.shelfMaxMs).toBe(5_400_000);
});

describe('alarms that stand for many', () => {
  const file = (groups: string): string =>
    `site: works\nalarms:\n  groups: ${groups}\nmotors: { mill: { positions: { de: {} } } }\n`;
  const ID = 'zone-hall.zone-silent';

  test('say what the site has them say, and the rest as the program does', () => {
    const { plan } = read(
      file('{ zone-silent: { priority: medium, action: Call 17, timeToRespondMs: null } }'),
    );
    expect(plan.groupAlarms['zone-silent']).toMatchObject({ priority: 'medium' });
    expect(findAdvice(plan, ID)).toMatchObject({
      action: 'Call 17',
      timeToRespondMs: null,
      class: 'instrument',
    });
    expect(findAdvice(plan, 'zone-hall.zone-drives-lost').action).toContain('Look first at');
  });

  test('a group that there is none of is refused where it stands', () => {
    const result = parseConfig(file('{ zone-quiet: { priority: low } }'), 'plant.yaml');
    const said = result.ok ? '' : result.problems.map(formatProblem).join('\n');
    expect(said).toContain('plant.yaml:3:');
    expect(said).toContain('zone-silent');
  });
});
