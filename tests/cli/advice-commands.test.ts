/** `compare`, `baseline` and `plan` over a store whose truth is known. */
import { rmSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { z } from 'zod';
import { answerBody, baselinesBody, dossierBody, planBody } from '../../src/api/advice-bodies.js';
import { Exit } from '../../src/cli/command.js';
import {
  BEGIN,
  DAY_MS,
  EARTHED_AT,
  EARTHING_EFFECT,
  HOUR_MS,
  makeAdvicePlant,
  ODD_RATIO,
  type AdvicePlant,
} from './advice-plant.js';
import { BEGIN as LITTLE_BEGIN, makeLittlePlant } from './little-plant.js';
import { runTallypost } from './recorder.js';

let plant: AdvicePlant;
beforeAll(() => {
  plant = makeAdvicePlant();
});
afterAll(() => rmSync(plant.folder, { recursive: true, force: true }));

function run(command: string, ...args: string[]) {
  return runTallypost(command, '--data', plant.data, '--config', plant.config, ...args);
}

type Answer = z.output<typeof answerBody>;

async function compare(sensor: string, ...args: string[]): Promise<Answer> {
  const { out } = await run('compare', '--sensor', sensor, '--json', ...args);
  return answerBody.strict().parse(JSON.parse(out));
}

function expectTruth(answer: Answer, truth: number): void {
  expect(answer.comparison?.lower).toBeLessThanOrEqual(truth);
  expect(answer.comparison?.upper).toBeGreaterThanOrEqual(truth);
}

/** At most this wide, and no line ends in a blank. */
function expectTidy(text: string): void {
  for (const line of text.split('\n')) {
    expect(line.length, line).toBeLessThanOrEqual(100);
    expect(line).not.toMatch(/\s$|NaN|undefined|Infinity/);
  }
}

const T = (at: number): string => new Date(at).toISOString();

describe('compare with the sisters', () => {
  it('the odd one out: ratio within its limits, over like conditions', async () => {
    const answer = await compare('pump-3/de', '--sisters');
    expectTruth(answer, ODD_RATIO / 1.08); // the middle of 0.2, 1.02, 1.04, 1.08, 1.12, 1.14, 1.16
    expect(answer.comparison).toMatchObject({ shared_ms: 168 * HOUR_MS, method: 'jackknife', days: 7 });
    expect(answer.comparison?.bins_used.map(({ bin }) => bin)).toEqual(['speed ..900', 'speed 900..']);
    expect(answer.sisters?.score).toMatchObject({ motors: 8, odd: true, torn: false });
    expect(answer.sentence).toMatch(
      /^pump-3 DE discharges 2\.\d+ times \(2\.\d+ to \d\.\d+\) as often as the median of its group, under like conditions, over 168 h shared\.$/,
    );
  });

  it('a plain one is not called odd', async () => {
    const answer = await compare('pump-1/de', '--sisters');
    expect(answer.sisters?.score).toMatchObject({ odd: false, torn: false });
    expect(answer.comparison?.notes.join(' ')).toContain('not called odd');
  });

  it('two odd ones in a group of four cannot be told apart: says so', async () => {
    const answer = await compare('fan-1/de', '--sisters');
    expect(answer.sisters?.score).toMatchObject({ odd: false, torn: true });
    expect(answer.comparison?.notes.join(' ')).toContain('cannot be told');
  });

  it('a motor without sisters has no answer, and exit code 1', async () => {
    const { code, out } = await run('compare', '--sensor', 'mill/de', '--sisters');
    expect(code).toBe(Exit.negative);
    expect(out).toContain('no other motor of duty group mill has a sensor at this position');
  });

  it('as text it fits 100 columns and begins with the sentence', async () => {
    const { code, out } = await run('compare', '--sensor', 'pump-3/de', '--sisters');
    expect(code).toBe(Exit.ok);
    expect(out).toMatch(/^pump-3 DE discharges 2\.\d+ times/);
    for (const part of ['condition bin', 'shared', 'dispersion', 'φ', 'pump-5 DE'])
      expect(out).toContain(part);
    expectTidy(out);
  });
});

describe('compare before and after', () => {
  it('around a remedy: the hour of the work belongs to neither side', async () => {
    const answer = await compare('pump-5/de', '--around', '1');
    expectTruth(answer, EARTHING_EFFECT / 1.1);
    expect(answer.action).toMatchObject({ id: 1, action: 'shaft-earthing-fitted', is_remedy: true });
    expect(answer.comparison?.b.to).toBe(T(EARTHED_AT - 0.5 * HOUR_MS));
    expect(answer.comparison?.a.from).toBe(T(EARTHED_AT + 0.5 * HOUR_MS));
  });

  it('says what is missing while there is too little exposure', async () => {
    const answer = await compare('pump-7/de', '--around', '3');
    expect(answer.comparison).toBeNull();
    expect(answer.missing).toBe('not enough exposure yet: 3.0 h of running and 1 day more after it');
  });

  it('an action of another motor, or one that was withdrawn, is none of its', async () => {
    for (const [sensor, action] of [
      ['pump-3/de', '1'],
      ['pump-5/de', '2'],
      ['pump-5/de', '99'],
    ] as const) {
      const { code, err } = await run('compare', '--sensor', sensor, '--around', action);
      expect(code).toBe(Exit.usage);
      expect(err).toContain(`has no maintenance action ${action}, or it was withdrawn`);
    }
  });

  it('two periods of a person are compared as they are', async () => {
    const before = `${T(BEGIN)}..${T(BEGIN + 10 * DAY_MS)}`;
    const after = `${T(BEGIN + 20 * DAY_MS)}..${T(BEGIN + 30 * DAY_MS)}`;
    const answer = await compare('pump-5/de', '--before', before, '--after', after);
    expectTruth(answer, EARTHING_EFFECT / 1.1);
    expect(answer.comparison).toMatchObject({ method: 'jackknife', days: 20 });
  });
});

describe('compare with its own baseline', () => {
  it('now against the yardstick that the alarms use', async () => {
    const answer = await compare('pump-5/de', '--baseline');
    expectTruth(answer, EARTHING_EFFECT / 1.1);
    expect(answer.comparison?.b).toMatchObject({ from: T(BEGIN), to: T(BEGIN + 10 * DAY_MS) });
    expect(answer.sentence).toMatch(
      /^pump-5 DE now discharges 0\.1\d+ times \(.*\) as often as its own baseline/,
    );
  });

  it('a period inside the learning period is said to overlap it', async () => {
    const answer = await compare('pump-3/de', '--baseline', '--from', T(BEGIN + 8 * DAY_MS));
    expect(answer.comparison?.notes.join(' ')).toContain('overlaps the learning period');
  });

  it('no yardstick yet: says what is missing', async () => {
    const { code, out } = await run('compare', '--sensor', 'mill/de', '--baseline');
    expect(code).toBe(Exit.negative);
    expect(out).toBe('mill DE has no yardstick yet: all needs 2.0 h of running and 4 days more.\n');
    expect((await compare('pump-1/de', '--baseline')).missing).toContain('20 running hours');
  });
});

describe('baseline', () => {
  it('lists every sensor with its bins', async () => {
    const { out } = await run('baseline', '--json');
    const { baselines } = baselinesBody.strict().parse(JSON.parse(out));
    expect(baselines).toHaveLength(19);
    const states = new Map(baselines.map(({ sensor, state, bins }) => [sensor, [state, bins.length]]));
    expect([states.get('pump-3/de'), states.get('mill/de'), states.get('fan-1/de')]).toEqual([
      ['learnt', 2],
      ['learning', 1],
      ['learning', 0],
    ]);
    const text = await run('baseline', '--sensor', 'mill/de');
    expect(text.out).toContain('all: needs 2.0 h of running and 4 days more');
    expectTidy(text.out);
  });
});

describe('plan', () => {
  it('ranks by evidence: seen damage, the odd one out, then the rest', async () => {
    const { out } = await run('plan', '--json');
    const { motors, standing } = planBody.strict().parse(JSON.parse(out));
    expect(motors.map(({ motor }) => motor).slice(0, 2)).toEqual(['fan-4', 'pump-3']);
    expect(motors.map(({ ground }) => ground).slice(0, 3)).toEqual([
      'seen-damage',
      'odd-one-out',
      'one-of-two-halves',
    ]);
    expect(motors).toHaveLength(19);
    expect(standing).toContain('No remaining-life figure');
    expect(motors.find(({ motor }) => motor === 'fan-1')?.reason).toContain('which is odd cannot be told');
    expect(motors.find(({ motor }) => motor === 'pump-5')?.reason).toContain('lowered it to 0.18');
  });

  it('as text it fits 100 columns', async () => {
    const { code, out } = await run('plan');
    expect(code).toBe(Exit.ok);
    expect(out).toMatch(/^rank {2}motor +why\n {3}1 {2}fan-4 /);
    expectTidy(out);
  });

  it('of one motor: remedies before and after, hypotheses in order, all cautions', async () => {
    const { remedies, advice } = dossierBody.parse(
      JSON.parse((await run('plan', '--motor', 'pump-5', '--json')).out),
    );
    expect(remedies.map(({ action, missing }) => [action?.id, missing])).toEqual([[1, '']]);
    expect(advice.hypotheses[0]?.mechanism).toBe('film-discharge');
    expect(advice.hypotheses[0]?.remedies[0]?.tried).toContain('the counts fell: 0.18');
    const speed = advice.observations.find(({ id }) => id === 'speed');
    expect(speed).toMatchObject({ value: 'rises' });
    const { out } = await run('plan', '--motor', 'pump-5');
    for (const part of [
      'Remedies, before and after',
      'would confirm it',
      'Trap:',
      'Cautions',
      'None of this is a diagnosis',
    ])
      expect(out.replaceAll(/\s+/g, ' ')).toContain(part);
    expectTidy(out);
  });
});

describe('arguments', () => {
  it.each([
    [['--sensor', 'pump-3/de'], 'What to compare with is missing'],
    [['--sensor', 'pump-3/de', '--sisters', '--baseline'], 'are two questions'],
    [['--sensor', 'pump-3/de', '--before', '1..2'], '--after FROM..TO is missing'],
    [['--sensor', 'pump-3/de', '--before', '2..1', '--after', '3..4'], 'is no period'],
    [['--sensor', 'pump-3/de', '--sisters', '--after', '3..4'], '--after goes with --before'],
    [['--sensor', 'pump-3/de', '--around', 'x'], '--around must be a number'],
    [['--sensor', 'pump-3/de', '--around', '1.5'], 'no number of a maintenance action'],
    [['--sensor', 'pump-3/de', '--around', '1', '--from', T(BEGIN)], '--from does not go with --around'],
    [['--sensor', 'pmp-3/de', '--sisters'], 'Did you mean pump-3/de?'],
  ])('%j', async (args, message) => {
    const { code, err } = await run('compare', ...args);
    expect(code).toBe(Exit.usage);
    expect(err).toContain(message);
  });

  it('a motor that is not configured is refused', async () => {
    const { code, err } = await run('plan', '--motor', 'pump-33');
    expect([code, err.includes('no motor pump-33')]).toEqual([Exit.usage, true]);
  });

  it.each(['compare', 'baseline', 'plan'])('%s --help has an example', async (name) => {
    const { code, out } = await runTallypost(name, '--help');
    expect(code).toBe(Exit.ok);
    expect(out).toMatch(/Examples?:\n {2}tallypost /);
  });
});

describe('readings that were replayed', () => {
  it('are compared as they were counted', async () => {
    const little = makeLittlePlant(LITTLE_BEGIN, 300);
    try {
      const files = ['--config', little.config, '--data', little.dataDir];
      expect((await runTallypost('replay', ...files, little.capture)).code).toBe(Exit.ok);
      const hour = (n: number): string => T(LITTLE_BEGIN + n * HOUR_MS);
      const periods = ['--before', `${hour(1)}..${hour(2)}`, '--after', `${hour(2)}..${hour(4)}`];
      const { code, out } = await runTallypost(
        'compare',
        ...files,
        '--sensor',
        'pump-1/de',
        '--json',
        ...periods,
      );
      expect(code).toBe(Exit.ok);
      const { comparison } = answerBody.parse(JSON.parse(out));
      // 90 a minute before and after, without any bursts
      expect(comparison).toMatchObject({
        ratio: 1,
        shared_ms: HOUR_MS,
        dispersion: 1,
        a: { pulses: 10_800 },
        b: { pulses: 5_400 },
      });
      const plan = await runTallypost('plan', ...files, '--motor', 'pump-1');
      expect(plan.code).toBe(Exit.ok);
      expect(plan.out).toContain('Counts follow the own modulation');
      expectTidy(plan.out);
    } finally {
      rmSync(little.folder, { recursive: true, force: true });
    }
  });
});
