/** Steps of commissioning as stories: what drives told, what sensors counted, and what is said of it. */
import { describe, expect, it } from 'vitest';
import {
  cutSlices,
  findSpan,
  pickLoudest,
  type DriveMessage,
  type HeardCounts,
  type StepEvidence,
  type StepKind,
  type Verdict,
} from '../../src/advice/commissioning.js';
import { judgeStep } from '../../src/advice/commissioning-verdict.js';

const GUARD = { beforeMs: 2_000, afterRunningMs: 5_000, afterStoppedMs: 10_000, capMs: 120_000 };
const BEGUN = 1_000_000;

const drive = (afterS: number, state: string, motor = 'pump-1'): DriveMessage => ({
  ...{ motor, at: BEGUN + afterS * 1_000, state },
  modulating: state === 'starting' || state === 'running' || state === 'stopping',
});

/** `before`: pulses of the 10 min before. */
const counted = (
  sensor: string,
  pulses: number,
  before = 0,
  more: Partial<HeardCounts> = {},
): HeardCounts => ({
  ...{ sensor, motor: sensor.split('/')[0]!, pulses, ms: 20_000, beforePulses: before, beforeMs: 600_000 },
  coveredTo: BEGUN + 200_000,
  ...more,
});

interface Story {
  readonly drives?: readonly DriveMessage[];
  readonly heard?: readonly HeardCounts[];
  readonly afterS: number;
  readonly hasRunState?: boolean;
  readonly sensor?: string;
}

function judge(
  kind: StepKind,
  { drives = [], heard = [], afterS, hasRunState = true, sensor }: Story,
): Verdict {
  const evidence: StepEvidence = {
    ...{ motor: 'pump-1', sensor: sensor ?? null, hasRunState, begunAt: BEGUN },
    ...{ now: BEGUN + afterS * 1_000, intervalMs: 10_000, drives, span: null, heard: [] },
  };
  const span = findSpan(kind, evidence, GUARD);
  return judgeStep(kind, span === null ? evidence : { ...evidence, span, heard });
}

const STANDS = [drive(-60, 'stopped'), drive(-60, 'stopped', 'pump-2')];
const STARTS = [...STANDS, drive(5, 'starting'), drive(9, 'running')];

describe('start this motor now', () => {
  it('waits for its drive, and for the readings that cover the start', () => {
    expect(judge('start', { drives: STANDS, afterS: 4 })).toMatchObject({
      state: 'waiting',
      todo: 'Start this motor now.',
    });
    const early = judge('start', {
      drives: STARTS,
      heard: [counted('pump-1/de', 0, 0, { coveredTo: BEGUN })],
      afterS: 10,
    });
    expect(early.state).toBe('waiting');
    expect(early.span).toEqual({ from: BEGUN + 3_000, to: BEGUN + 14_000 });
  });

  it('a message that repeats a state is no start', () => {
    expect(judge('start', { drives: [...STANDS, drive(5, 'stopped')], afterS: 10 }).state).toBe('waiting');
    const runs = [drive(-60, 'running'), drive(5, 'running')];
    expect(judge('start', { drives: runs, afterS: 10 })).toMatchObject({
      state: 'failed',
      says: 'pump-1 runs already',
    });
  });

  it('says which sensors heard it, and that silence proves nothing', () => {
    const heard = [counted('pump-1/de', 41), counted('pump-1/nde', 0), counted('pump-2/de', 1, 30)];
    const verdict = judge('start', { drives: STARTS, heard, afterS: 60 });
    expect(verdict.state).toBe('passed');
    expect(verdict.says).toBe(
      'its drive told the start; heard by pump-1/de (41); not heard by pump-1/nde, which proves nothing',
    );
    expect(verdict.sensors.map(({ sensor, isHeard }) => [sensor, isHeard])).toEqual([
      ['pump-1/de', true],
      ['pump-1/nde', false],
    ]);
  });

  it('another drive that told the start means another motor, or swapped reports', () => {
    const verdict = judge('start', { drives: [...STANDS, drive(5, 'running', 'pump-2')], afterS: 20 });
    expect(verdict).toMatchObject({ state: 'failed' });
    expect(verdict.says).toContain('the drive of pump-2 told a start, that of pump-1 did not');
  });

  it('sensors of another motor that heard more are suspected to be swapped', () => {
    const heard = [counted('pump-1/de', 2), counted('pump-2/de', 60)];
    const verdict = judge('start', { drives: STARTS, heard, afterS: 60 });
    expect(verdict.state).toBe('doubtful');
    expect(verdict.says).toContain('pump-2/de counted more (60)');
  });

  it('one sensor swapped with another motor’s is suspected, unless that motor started too', () => {
    const heard = [counted('pump-1/de', 0), counted('pump-1/nde', 50), counted('pump-2/de', 48)];
    const alone = judge('start', { drives: STARTS, heard, afterS: 60 });
    expect(alone).toMatchObject({ state: 'doubtful' });
    expect(alone.says).toContain('pump-2/de heard it (48), and pump-1/de did not');
    expect(alone.todo).toContain('pump-1/de and pump-2/de are swapped');
    const both = judge('start', { drives: [...STARTS, drive(6, 'running', 'pump-2')], heard, afterS: 60 });
    expect(both.todo).toContain('pump-2 started at the same time');
  });

  it('a neighbour that hears it besides its own sensors is to be coupled', () => {
    const heard = [counted('pump-1/de', 50), counted('pump-2/de', 48)];
    const verdict = judge('start', { drives: STARTS, heard, afterS: 60 });
    expect(verdict).toMatchObject({ state: 'passed' });
    expect(verdict.says).toContain('also heard by pump-2/de (48)');
    expect(verdict.todo).toContain('coupledTo');
  });

  it('a sister that runs on as before is not suspected', () => {
    const heard = [counted('pump-1/de', 5), counted('pump-2/de', 300, 9_000)];
    expect(judge('start', { drives: STARTS, heard, afterS: 60 }).state).toBe('passed');
  });

  it('no reading that covers it, and no start at all, are failures', () => {
    const heard = [counted('pump-1/de', 0, 0, { ms: 0, coveredTo: BEGUN - 60_000 })];
    expect(judge('start', { drives: STARTS, heard, afterS: 120 }).says).toContain(
      'no reading of pump-1/de covers it',
    );
    expect(judge('start', { drives: STANDS, afterS: 301 }).state).toBe('failed');
  });

  it('without a run-state signal the counts alone say it', () => {
    const verdict = judge('start', { heard: [counted('pump-1/de', 41)], afterS: 130, hasRunState: false });
    expect(verdict).toMatchObject({ state: 'passed' });
    expect(judge('start', { heard: [counted('pump-1/de', 0)], afterS: 130, hasRunState: false }).state).toBe(
      'doubtful',
    );
  });
});

describe('stop it', () => {
  const STOPS = [drive(-60, 'running'), drive(5, 'stopping'), drive(9, 'stopped')];

  it('counts a minute at standstill, ten seconds after the stop', () => {
    const verdict = judge('stop', { drives: STOPS, heard: [counted('pump-1/de', 0)], afterS: 90 });
    expect(verdict).toMatchObject({ state: 'passed', says: 'it stands, and its sensors count nothing' });
    expect(verdict.span).toEqual({ from: BEGUN + 19_000, to: BEGUN + 79_000 });
  });

  it('a motor that stands already need not be stopped', () => {
    expect(judge('stop', { drives: STANDS, heard: [counted('pump-1/de', 0)], afterS: 90 }).state).toBe(
      'passed',
    );
  });

  it('what still counts at standstill comes from elsewhere', () => {
    const verdict = judge('stop', { drives: STOPS, heard: [counted('pump-1/de', 7)], afterS: 90 });
    expect(verdict.state).toBe('doubtful');
    expect(verdict.says).toContain('pump-1/de (7 in 20 s)');
  });

  it('waits for a motor that runs on', () => {
    expect(judge('stop', { drives: [drive(-60, 'running')], afterS: 10 }).state).toBe('waiting');
  });
});

describe('function check', () => {
  const at = { sensor: 'pump-1/de', drives: STANDS };

  it('sparks that are counted pass at once; a single one beside counts of before does not', () => {
    const heard = [counted('pump-1/de', 12), counted('pump-1/nde', 0)];
    expect(judge('check', { ...at, heard, afterS: 20 })).toMatchObject({
      ...{ state: 'passed', says: 'pump-1/de counted 12 sparks' },
    });
    expect(judge('check', { ...at, heard: [counted('pump-1/de', 1, 40)], afterS: 20 }).state).toBe('waiting');
  });

  it('sparks that another sensor counted mean swapped sensors', () => {
    const heard = [counted('pump-1/de', 0), counted('pump-1/nde', 12)];
    const verdict = judge('check', { ...at, heard, afterS: 20 });
    expect(verdict).toMatchObject({ state: 'failed', says: 'pump-1/nde counted 12, pump-1/de did not' });
  });

  it('another one that counts more is told, and so is one that counts besides', () => {
    const near = [counted('pump-1/de', 10), counted('pump-1/nde', 30)];
    expect(judge('check', { ...at, heard: near, afterS: 20 })).toMatchObject({
      ...{ state: 'doubtful', says: 'pump-1/de counted 10 sparks, but pump-1/nde counted more (30)' },
    });
    const besides = [counted('pump-1/de', 30), counted('pump-1/nde', 10)];
    expect(judge('check', { ...at, heard: besides, afterS: 20 })).toMatchObject({
      ...{ state: 'passed', says: 'pump-1/de counted 30 sparks; also heard by pump-1/nde (10)' },
    });
  });

  it('is worth nothing when the motor is started meanwhile, and it is told where nobody says how it stands', () => {
    const heard = [counted('pump-1/de', 900)];
    const started = judge('check', { ...at, drives: STARTS, heard, afterS: 20 });
    expect(started).toMatchObject({ state: 'failed', says: 'the motor was started during the check' });
    expect(judge('check', { ...at, drives: [], heard, afterS: 20 }).todo).toContain('Nobody says');
  });

  it('is judged by the loudest slice, so that sparks once heard stay heard', () => {
    const { slices, most } = cutSlices({ from: 0, to: 50_000 }, 10_000);
    expect(slices).toEqual([
      { from: 0, to: 20_000 },
      { from: 20_000, to: 40_000 },
      { from: 40_000, to: 50_000 },
    ]);
    expect(most).toBe(9);
    const quiet = [counted('pump-1/de', 1, 40), counted('pump-1/nde', 1)];
    const loud = [counted('pump-1/de', 14, 40), counted('pump-1/nde', 0)];
    expect(pickLoudest([quiet, loud, quiet]).map(({ pulses }) => pulses)).toEqual([14, 1]);
  });

  it('of a new sensor, of which nothing is known before, three pulses are taken as heard', () => {
    const fresh = { beforeMs: 5_000 };
    expect(judge('check', { ...at, heard: [counted('pump-1/de', 3, 0, fresh)], afterS: 20 }).state).toBe(
      'passed',
    );
    expect(judge('check', { ...at, heard: [counted('pump-1/de', 2, 0, fresh)], afterS: 20 }).state).toBe(
      'waiting',
    );
    const nothing = counted('pump-1/de', 3, 0, { beforeMs: 0 });
    expect(judge('check', { ...at, heard: [nothing], afterS: 20 }).state).toBe('passed');
  });

  it('fails after three minutes without a count, or when the motor runs', () => {
    expect(judge('check', { ...at, heard: [counted('pump-1/de', 0)], afterS: 181 }).state).toBe('failed');
    const runs = [drive(-60, 'running')];
    expect(
      judge('check', { ...at, drives: runs, heard: [counted('pump-1/de', 900)], afterS: 20 }),
    ).toMatchObject({
      ...{ state: 'failed', says: 'the motor runs' },
    });
  });
});
