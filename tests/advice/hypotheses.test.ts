import { describe, expect, it } from 'vitest';
import { CAUTIONS, STANDING } from '../../src/advice/cautions.js';
import type { MotorEvidence } from '../../src/advice/evidence.js';
import { adviseOn, observeAll, type Hypothesis } from '../../src/advice/hypotheses.js';
import { MECHANISMS, type MechanismId } from '../../src/advice/mechanism.js';
import { REMEDIES } from '../../src/advice/remedies.js';
import { RULES } from '../../src/advice/rules.js';
import { action, motor, rate, sensor } from './motors.js';

function first(evidence: MotorEvidence): MechanismId | undefined {
  return adviseOn(evidence).hypotheses[0]?.mechanism;
}

function find(evidence: MotorEvidence, mechanism: MechanismId): Hypothesis {
  return adviseOn(evidence).hypotheses.find((each) => each.mechanism === mechanism)!;
}

function valueOf(evidence: MotorEvidence, id: string): string | null | undefined {
  return observeAll(evidence).find((each) => each.id === id)?.value;
}

const quiet = { background: rate(0.001) };

describe('hypotheses for a motor with raised counts', () => {
  it('a small machine whose counts follow its own modulation at one end: discharge through the film first', () => {
    const small = motor({
      powerKw: 11,
      sensors: [sensor('de', { ...quiet, running: rate(6) }), sensor('nde', { ...quiet, running: rate(1) })],
    });
    expect(first(small)).toBe('film-discharge');
    expect(find(small, 'film-discharge').weight).toBe('much speaks for it');
    expect(find(small, 'circulating-current').speaksAgainst.length).toBeGreaterThanOrEqual(2);
  });

  it('a large machine, both ends alike, modulated: circulating current first', () => {
    const large = motor({ frameMm: 315, sensors: [sensor('de', quiet), sensor('nde', quiet)] });
    expect(first(large)).toBe('circulating-current');
  });

  it('counts at standstill that follow a neighbour: interference first, every mechanism of the own drive last', () => {
    const loud = {
      background: rate(0.9),
      neighbours: [{ motor: 'pump-2', ratio: 12, lower: 9, upper: 16 }],
    };
    const heard = motor({ sensors: [sensor('de', loud), sensor('nde', loud)] });
    const order = adviseOn(heard).hypotheses.map(({ mechanism }) => mechanism);
    expect(order[0]).toBe('interference');
    expect(order.indexOf('film-discharge')).toBeGreaterThan(order.indexOf('sensor-or-wiring'));
  });

  it('counts that stay on line supply: line asymmetry first', () => {
    expect(first(motor({ sensors: [sensor('de', { bypass: rate(1) })] }))).toBe('line-asymmetry');
  });

  it('counts that rose after an earthing device was fitted: its contact is named, and the step is marked as done', () => {
    const fitted = motor({
      actions: [action('shaft-earthing-fitted', { end: 'de', effect: { ratio: 2, lower: 1.6, upper: 2.5 } })],
    });
    expect(
      find(fitted, 'earthing-contact')
        .speaksFor.map(({ observed }) => observed)
        .join(' '),
    ).toContain('rose');
    expect(find(fitted, 'film-discharge').remedies[0]?.tried).toBe(
      'done; the counts rose: 2.0 (1.60 to 2.5) times as often as before',
    );
    expect(find(motor(), 'earthing-contact').speaksAgainst).toHaveLength(1);
  });

  it('insulating one end that did not help speaks against circulating current and for the film', () => {
    const insulated = motor({
      actions: [
        action('bearing-replaced', {
          end: 'nde',
          bearing: 'insulated',
          effect: { ratio: 1, lower: 0.9, upper: 1.1 },
        }),
      ],
    });
    expect(valueOf(insulated, 'insulation')).toBe('one-end');
    expect(valueOf(insulated, 'afterInsulation')).toBe('same');
    expect(find(insulated, 'circulating-current').weight).toBe('speaks against it');
    expect(find(insulated, 'film-discharge').speaksFor.map(({ text }) => text)).toContain(
      'insulating one end leaves the other exposed',
    );
  });

  it('faults noted on the device put the sensor first', () => {
    expect(
      first(motor({ sensors: [sensor('de', { faults: ['counter restarts without a boot number'] })] })),
    ).toBe('sensor-or-wiring');
  });
});

describe('what is not known', () => {
  it('with nothing but counts almost everything is open, and says what would tell', () => {
    const known = observeAll(motor()).filter(({ value }) => value !== null);
    expect(known.map(({ id }) => id).sort()).toEqual(['commonBursts', 'earthingFitted', 'insulation']);
    for (const each of adviseOn(motor()).hypotheses) {
      if (each.mechanism !== 'earthing-contact') expect(each.notKnown.length).toBeGreaterThan(2);
    }
  });

  it('limits too wide leave an observation open, whatever the ratio', () => {
    const wide = motor({ sensors: [sensor('de', { running: rate(6, 0.8) }), sensor('nde')] });
    expect(valueOf(wide, 'ends')).toBeNull();
    const apart = motor({ sensors: [sensor('de', { running: rate(6, 0.1) }), sensor('nde')] });
    expect(valueOf(apart, 'ends')).toBe('one-end');
  });

  it('a course is judged by the limits of the comparison at like conditions', () => {
    const course = (lower: number, upper: number | null): string | null | undefined =>
      valueOf(
        motor({
          sensors: [
            sensor('de', { axes: [{ axis: 'speed', low: '..600', high: '1200..', ratio: 2, lower, upper }] }),
          ],
        }),
        'speed',
      );
    expect([course(1.3, 3), course(1.3, null), course(0.1, 0.7), course(0.9, 1.1), course(0.9, 3)]).toEqual([
      'rises',
      'rises',
      'falls',
      'level',
      null,
    ]);
    expect(course(0, null)).toBeNull();
  });

  it('a motor that does not discharge gives no figures that are no numbers', () => {
    const silent = motor({
      sensors: [sensor('de', { running: rate(0) }), sensor('nde', { running: rate(0) })],
    });
    for (const { text } of observeAll(silent)) expect(text).not.toMatch(/NaN|Infinity|undefined/);
  });
});

describe('the rules as data', () => {
  it('each rule, remedy, trap and caution has a source, and no rule is there twice', () => {
    const sources = [
      ...RULES.map(({ source }) => source),
      ...CAUTIONS.map(({ source }) => source),
      ...Object.values(REMEDIES).flatMap((steps) => steps.flatMap((step) => [step.source, step.trap.source])),
      ...MECHANISMS.flatMap((each) =>
        [each.about, ...each.confirm, ...each.refute].map(({ source }) => source),
      ),
    ];
    for (const source of sources) expect(source.length).toBeGreaterThan(10);
    const keys = RULES.map(({ mechanism, on, is }) => `${mechanism} ${on} ${is}`);
    expect(new Set(keys).size).toBe(keys.length);
  });

  it('every mechanism has something that confirms and refutes it, rules on both sides, and remedies with traps', () => {
    for (const { id, confirm, refute } of MECHANISMS) {
      expect(confirm.length).toBeGreaterThan(0);
      expect(refute.length).toBeGreaterThan(0);
      const own = RULES.filter(({ mechanism }) => mechanism === id).map(({ speaks }) => speaks);
      expect([...new Set(own)].sort(), id).toEqual(['against', 'for']);
      for (const { trap } of REMEDIES[id]) expect(trap.text.length).toBeGreaterThan(20);
    }
  });

  it('the traps of the trade are told', () => {
    const traps = Object.values(REMEDIES)
      .flatMap((steps) => steps.map(({ trap }) => trap.text))
      .join('\n');
    expect(traps).toContain('Insulating one end does not stop discharges at the other');
    expect(traps).toContain('may itself spark and be counted');
    expect(traps).toContain('may move the current to the driven machine');
  });

  it('all cautions are there, with every piece of advice, and no waiting time is printed', () => {
    expect(adviseOn(motor()).cautions).toBe(CAUTIONS);
    const text = CAUTIONS.map(({ text: each }) => each).join('\n');
    for (const needed of [
      /shaft turns/,
      /live/,
      /turned by its load/,
      /hot enough to burn/,
      /start by itself/,
      /Lock out/,
      /prove dead/,
      /label of this very drive, then measure/,
      /explosive atmospheres .* consent/s,
      /Ask the manufacturers .* switching frequency/s,
      /local codes/,
      /licensed/,
    ])
      expect(text).toMatch(needed);
    expect(text).not.toMatch(/\d+ ?(min|s|seconds|minutes)\b/);
  });

  it('says "diagnosis" only to say that it is none', () => {
    const advice = JSON.stringify(adviseOn(motor()));
    expect(advice.match(/diagnos/gi)).toHaveLength(1);
    expect(STANDING).toContain('None of this is a diagnosis');
  });
});
