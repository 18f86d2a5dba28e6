/** From the file to the core's plan: names, defaults, templates, limits, alarms, revision. */
import { describe, expect, test } from 'vitest';
import { confidenceWithin } from '../../src/config/alarm-budget.js';
import type { Config } from '../../src/config/config.js';
import { expandBraces } from '../../src/config/expansion.js';
import { parseConfig } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';
import type { Plan } from '../../src/core/plan.js';

function read(text: string): { config: Config; plan: Plan } {
  const result = parseConfig(text, 'plant.yaml');
  if (!result.ok) throw new Error(result.problems.map(formatProblem).join('\n'));
  return result;
}

const one = (body: string): { config: Config; plan: Plan } => read(`site: works\nmotors:\n  mill: ${body}\n`);

describe('braces', () => {
  test.each([
    ['pump', ['pump']],
    ['pump-{1..3}', ['pump-1', 'pump-2', 'pump-3']],
    ['pump-{08..11}', ['pump-08', 'pump-09', 'pump-10', 'pump-11']],
    ['{a,b}-{1..2}', ['a-1', 'a-2', 'b-1', 'b-2']],
    ['fan-{left, right}', ['fan-left', 'fan-right']],
  ])('%s', (pattern, texts) => {
    expect(expandBraces(pattern)).toEqual({ ok: true, texts });
  });

  test.each([
    'a-{3..1}',
    'a-{1..}',
    'a-{x}',
    'a-{1..3',
    'a-}',
    'a-{1..{2..3}}',
    'a-{1..999999999}',
    '{1..200}{1..200}',
    'a-{,b}',
  ])('%s is refused', (pattern) => {
    expect(expandBraces(pattern).ok).toBe(false);
  });
});

test('a nameplate is carried for the motors that have one, and half of one is enough', () => {
  const { plan } = read(
    'site: works\nmotors:\n  mill: { positions: { de: } }\n  fan: { positions: { de: }, nameplate: { powerKw: 11 } }\n',
  );
  expect([...(plan.nameplates ?? [])]).toEqual([['fan', { powerKw: 11, frameMm: null }]]);
});

describe('defaults', () => {
  test('of a motor and a sensor', () => {
    const { plan } = one('{ positions: { de: } }');
    expect(plan.motors.get('mill')).toEqual({
      key: 'mill',
      zone: 'plant',
      dutyGroup: 'mill',
      hasRunState: true,
      heartbeatMs: null,
      rampMs: 0,
      clockErrorMs: 1_000,
    });
    expect(plan.sensors.get('mill/de')).toEqual({
      key: 'mill/de',
      motor: 'mill',
      position: 'de',
      intervalMs: 10_000,
      counterBits: 53,
      maxRatePerS: 50_000,
      deadTimeS: 0,
      coupledMotors: [],
      clockErrorMs: 1_000,
      reorderWaitMs: 15_000,
    });
    expect([plan.reviseHorizonMs, plan.futureToleranceMs]).toEqual([7 * 86_400_000, 120_000]);
    expect(plan.gate).toEqual({
      beforeEdgeMs: 2_000,
      afterRunningMs: 5_000,
      afterStoppedMs: 10_000,
      capMs: 120_000,
      mergeMs: 5_000,
      coupledMs: 1_000,
      settleMs: 5_000,
      settleWaitMs: 60_000,
      maxIntervalFactor: 3.15,
    });
    expect(plan.common).toEqual({
      tail: 1e-4,
      windowsMin: 60,
      motorsMin: 3,
      shareMin: 0.3,
      quietMs: 600_000,
      speedStep: 0.1,
    });
  });

  test('condition alarms are on, one for each sensor and one for the drive', () => {
    const { plan } = one(
      '{ positions: { de: {}, nde: {} }, alarms: { saturated: false, clock-off: { priority: medium } } }',
    );
    expect(plan.conditionAlarms.map(({ id }) => id).sort()).toEqual([
      'mill.de-clock-off',
      'mill.de-counter-unknown',
      'mill.de-no-readings',
      'mill.de-rejecting',
      'mill.drive-run-state-lost',
      'mill.nde-clock-off',
      'mill.nde-counter-unknown',
      'mill.nde-no-readings',
      'mill.nde-rejecting',
    ]);
    const byId = new Map(plan.conditionAlarms.map((alarm) => [alarm.id, alarm]));
    expect(byId.get('mill.de-clock-off')).toMatchObject({
      priority: 'medium',
      onDelayMs: 600_000,
      sensor: 'mill/de',
    });
    expect(byId.get('mill.drive-run-state-lost')).toMatchObject({
      sensor: null,
      alarm: 'drive-run-state-lost',
    });
  });

  test('every alarm says why, how it is classed and how soon to act, and null states no time', () => {
    const setpoint =
      'rate-high: { setpointPerMin: 120, rationale: our own, confidence: 0.99, class: bearings }';
    const alarms = `${setpoint}, no-readings: { timeToRespondMs: null }, rising: { timeToRespondMs: 60000 }`;
    const { plan } = one(`{ positions: { de: {} }, alarms: { ${alarms} } }`);
    expect(plan.rateAlarms[0]).toMatchObject({
      ...{ confidence: 0.99, class: 'bearings', rationale: 'our own', timeToRespondMs: 7 * 86_400_000 },
    });
    expect(plan.conditionAlarms.find(({ kind }) => kind === 'no-readings')?.timeToRespondMs).toBeNull();
    expect(plan.deviationAlarms.find(({ kind }) => kind === 'rising')?.timeToRespondMs).toBe(60_000);
    for (const alarm of [...plan.conditionAlarms, ...plan.deviationAlarms]) {
      expect(alarm.rationale).not.toBe('');
      expect(alarm.class).not.toBe('');
    }
  });

  test('a motor without run state has no alarm for losing it', () => {
    const { plan } = one('{ positions: { de: {} }, drive: { runState: none } }');
    expect(plan.motors.get('mill')?.hasRunState).toBe(false);
    expect(plan.conditionAlarms.some(({ kind }) => kind === 'run-state-lost')).toBe(false);
  });

  test('no-readings waits for the longest normal interval', () => {
    const { plan } = one('{ positions: { de: { intervalMs: 600000 } } }');
    expect(plan.conditionAlarms.find(({ kind }) => kind === 'no-readings')?.onDelayMs).toBe(1_890_000);
  });
});

describe('plausible maximum rate', () => {
  test.each([
    ['configured', 'positions: { de: { maxRatePerS: 700, deadTimeUs: 100 } }', 700],
    ['from dead time', 'positions: { de: { deadTimeUs: 100 } }', 10_000],
    ['from switching frequency', 'positions: { de: {} }, drive: { switchingKhz: 4 }', 24_000],
    ['the smaller of both', 'positions: { de: { deadTimeUs: 100 } }, drive: { switchingKhz: 4 }', 10_000],
    ['nothing known', 'positions: { de: {} }', 50_000],
  ])('%s', (_, body, rate) => {
    expect(one(`{ ${body} }`).plan.sensors.get('mill/de')?.maxRatePerS).toBe(rate);
  });
});

describe('templates', () => {
  const TEXT = `
site: works
templates:
  pump:
    zone: hall
    dutyGroup: pumps
    drive: { heartbeatMs: 10000, rampMs: 4000 }
    positions:
      de: { intervalMs: 5000, coupledTo: ["pump-{1..3}"] }
      nde: { intervalMs: 5000 }
    alarms:
      rate-high: { setpointPerMin: 120, deadbandPerMin: 20, rationale: our own }
      no-readings: false
motors:
  pump-{1..2}: { template: pump }
  pump-3:
    template: pump
    drive: { heartbeatMs: null }
    positions: { de: { counterBits: 32 }, nde: false, top: }
    alarms:
      rate-high: { setpointPerMin: 300, positions: [de] }
      no-readings: { onDelayMs: 60000 }
`;

  test('own keys win, the others stay', () => {
    const { plan } = read(TEXT);
    expect(plan.motors.get('pump-3')).toMatchObject({
      zone: 'hall',
      dutyGroup: 'pumps',
      heartbeatMs: null,
      rampMs: 4_000,
    });
    expect(plan.motors.get('pump-1')).toMatchObject({ heartbeatMs: 10_000 });
    expect(plan.sensors.get('pump-3/de')).toMatchObject({
      intervalMs: 5_000,
      counterBits: 32,
      reorderWaitMs: 10_000,
    });
    expect([...plan.sensors.keys()]).toEqual([
      'pump-1/de',
      'pump-1/nde',
      'pump-2/de',
      'pump-2/nde',
      'pump-3/de',
      'pump-3/top',
    ]);
  });

  test('false takes away what the template has, and a mapping brings it back', () => {
    const { plan } = read(TEXT);
    expect(
      plan.conditionAlarms
        .filter(({ kind }) => kind === 'no-readings')
        .map(({ id, onDelayMs }) => [id, onDelayMs]),
    ).toEqual([
      ['pump-3.de-no-readings', 60_000],
      ['pump-3.top-no-readings', 60_000],
    ]);
  });

  test('no motor is coupled to itself', () => {
    const { plan } = read(TEXT);
    expect(plan.sensors.get('pump-2/de')?.coupledMotors).toEqual(['pump-1', 'pump-3']);
  });

  test('rate alarms stand for each position', () => {
    const { plan } = read(TEXT);
    expect(
      plan.rateAlarms.map(({ id, sensor, setpointPerMin, deadbandPerMin }) => [
        id,
        sensor,
        setpointPerMin,
        deadbandPerMin,
      ]),
    ).toEqual([
      ['pump-1.de-rate-high', 'pump-1/de', 120, 20],
      ['pump-1.nde-rate-high', 'pump-1/nde', 120, 20],
      ['pump-2.de-rate-high', 'pump-2/de', 120, 20],
      ['pump-2.nde-rate-high', 'pump-2/nde', 120, 20],
      ['pump-3.de-rate-high', 'pump-3/de', 300, 20],
    ]);
  });

  test('forty like motors are a short file', () => {
    const { plan } = read('site: works\nmotors:\n  pump-{01..40}:\n    positions: { de: {}, nde: {} }\n');
    expect([plan.motors.size, plan.sensors.size, plan.motors.has('pump-07')]).toEqual([40, 80, true]);
  });
});

describe('alarm budget', () => {
  test('one false alarm a month over 16 sensors with two kinds', () => {
    const alarms = Array.from({ length: 32 }, () => ({ windowMs: 600_000 }));
    expect(confidenceWithin(1, alarms)).toBeCloseTo(1 - 2 / (32 * 4_320), 12);
  });

  test('more sensors ask for more confidence, a larger budget for less, never below 95 %', () => {
    const alarms = (count: number) => Array.from({ length: count }, () => ({ windowMs: 600_000 }));
    expect(confidenceWithin(1, alarms(100))).toBeGreaterThan(confidenceWithin(1, alarms(10)));
    expect(confidenceWithin(10, alarms(10))).toBeLessThan(confidenceWithin(1, alarms(10)));
    expect(confidenceWithin(1_000, alarms(1))).toBe(0.95);
    expect(confidenceWithin(1, [])).toBe(0.95);
  });
});

describe('revision', () => {
  const BASE = 'site: works\nmotors:\n  pump-{1..2}: { positions: { de: {} } }\n';

  test('twelve hex digits, the same for the same meaning', () => {
    const { plan } = read(BASE);
    expect(plan.revision).toMatch(/^[0-9a-f]{12}$/);
    const otherwise =
      '# a comment\nmotors: { pump-2: { positions: { de: { intervalMs: 10000 } } }, pump-1: { positions: { de: } } }\nsite: works\n';
    expect(read(otherwise).plan.revision).toBe(plan.revision);
    const elsewhere = parseConfig(BASE, '/elsewhere/site.yaml');
    expect(elsewhere.ok && elsewhere.plan.revision).toBe(plan.revision);
  });

  test('another for another meaning', () => {
    expect(read(`${BASE}gate: { capMs: 60000 }\n`).plan.revision).not.toBe(read(BASE).plan.revision);
  });
});
