/** What a candidate may change, what it may not, and how that is said. */
import { describe, expect, it } from 'vitest';
import { judgeCandidate } from '../../src/rehearsal/candidate.js';
import { planPlant } from './plants.js';

const running = planPlant();

describe('a candidate', () => {
  it('with other setpoints and delays is taken, and says which settings of which alarm', () => {
    const found = judgeCandidate(running, planPlant({ setpointPerMin: 80, onDelayMs: 300_000 }));
    expect(found.refusals).toEqual([]);
    expect(found.changes.map(({ id, what }) => `${id} ${what}`)).toEqual([
      'pump-1.de-rate-high changed',
      'pump-2.de-rate-high changed',
    ]);
    expect(found.changes[0]!.settings).toEqual([
      { name: 'onDelayMs', running: '60000', candidate: '300000' },
      { name: 'setpointPerMin', running: '60', candidate: '80' },
    ]);
  });

  it('with another budget changes confidence and shares, with another baseline its age', () => {
    const more = 'alarmBudget: { falseAlarmsPerMonth: 5 }\nbaseline: { ageMaxDays: 90 }';
    const found = judgeCandidate(running, planPlant({ more }));
    expect(found.refusals).toEqual([]);
    expect(found.baseline.map(({ name }) => name)).toEqual(['ageMaxMs']);
    const names = new Set(found.changes.flatMap(({ settings }) => settings.map(({ name }) => name)));
    expect([...names].sort()).toEqual(['confidence', 'falseAlarmsPerMonth']);
  });

  it.each([
    ['gate', 'gate: { afterRunningMs: 9000 }', 'gate.afterRunningMs would be 9000 instead of 5000'],
    ['common bursts', 'common: { motorsMin: 4 }', 'common.motorsMin would be 4 instead of 3'],
    [
      'lateness',
      'core: { reviseHorizonDays: 1 }',
      'core.reviseHorizonMs would be 86400000 instead of 604800000',
    ],
  ])('that changes %s is refused with what and why', (_, more, says) => {
    const { refusals } = judgeCandidate(running, planPlant({ more }));
    expect(refusals).toHaveLength(1);
    expect(refusals[0]).toContain(says);
    expect(refusals[0]).toContain('Only alarms, alarmBudget and baseline can be rehearsed');
  });

  it('that changes a sensor or a drive is refused by its name', () => {
    const [motor] = running.motors.values();
    const [sensor] = running.sensors.values();
    const candidate = {
      ...running,
      motors: new Map([...running.motors, [motor!.key, { ...motor!, rampMs: 1 }]]),
      sensors: new Map([...running.sensors, [sensor!.key, { ...sensor!, deadTimeS: 0.001 }]]),
    };
    const { refusals } = judgeCandidate(running, candidate);
    expect(refusals.map((text) => text.split(' would')[0])).toEqual([
      'motor pump-1: rampMs',
      'sensor pump-1/de: deadTimeS',
    ]);
  });

  it('that renames a motor is taken, and the rename is said', () => {
    const found = judgeCandidate(running, planPlant({ motors: 'pump-{1,3}' }));
    expect(found.refusals).toEqual([]);
    expect(found.notes.join('\n')).toMatch(/motor pump-2 is not in the candidate/);
    expect(found.notes.join('\n')).toMatch(
      /sensor pump-3\/de is not in the running .* takes no history along/,
    );
    expect(found.changes.some(({ id, what }) => id === 'pump-3.de-rate-high' && what === 'added')).toBe(true);
  });

  it('that changes nothing but words changes nothing', () => {
    const spoken = {
      ...running,
      rateAlarms: running.rateAlarms.map((alarm) => ({ ...alarm, rationale: 'Otherwise said.' })),
    };
    expect(judgeCandidate(running, spoken)).toEqual({ refusals: [], changes: [], baseline: [], notes: [] });
  });
});
