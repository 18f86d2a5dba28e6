/** A run of commissioning: what is next, what it comes to, and what its steps do to the yardstick of later ones. */
import { describe, expect, it } from 'vitest';
import type { StepKind, Verdict } from '../../src/advice/commissioning.js';
import {
  concludeRun,
  endVerdict,
  findNext,
  listDisturbed,
  tellRun,
  type KeptRun,
  type KeptStep,
} from '../../src/advice/commissioning-run.js';

const BEGUN = 1_000_000;

describe('a run', () => {
  const verdict = (state: Verdict['state']): Verdict => ({
    ...{ state, says: state, todo: '', span: null, drives: [], sensors: [] },
  });
  const step = (kind: StepKind, state: Verdict['state'] | null, sensor: string | null = null): KeptStep => ({
    ...{ step: kind, sensor, begunAt: BEGUN, begunBy: 'J. Field', endedAt: null },
    verdict: state === null ? null : verdict(state),
  });
  const run = (...steps: KeptStep[]): KeptRun => ({
    ...{
      id: 1,
      motor: 'pump-1',
      sensors: ['pump-1/de'],
      state: 'open',
      openedAt: BEGUN,
      openedBy: 'J. Field',
    },
    ...{ closedAt: null, closedBy: '', note: '', configuration: 'abc', steps },
  });
  const next = (of: KeptRun) => findNext(of, (each) => each.verdict?.state ?? 'waiting');

  it('leads from the start over the stop to the check of each sensor', () => {
    expect(next(run())).toMatchObject({ step: 'start' });
    expect(next(run(step('start', 'passed')))).toMatchObject({ step: 'stop' });
    expect(next(run(step('start', 'passed'), step('stop', 'doubtful')))).toMatchObject({
      ...{ step: 'check', sensor: 'pump-1/de' },
    });
    const done = run(step('start', 'passed'), step('stop', 'passed'), step('check', 'passed', 'pump-1/de'));
    expect(next(done)).toBeNull();
    expect(concludeRun(done)).toBe('passed');
  });

  it('what an earlier step did to the counts is no yardstick, but the standstill that was counted is', () => {
    const at = (begunAt: number, of: KeptStep): KeptStep => ({ ...of, begunAt, endedAt: begunAt + 100_000 });
    const stop = step('stop', 'passed');
    const span = { from: BEGUN + 120_000, to: BEGUN + 180_000 };
    const earlier = run(
      at(BEGUN, step('start', 'passed')),
      at(BEGUN + 100_000, { ...stop, verdict: { ...stop.verdict!, span } }),
    );
    expect(listDisturbed(earlier, { begunAt: BEGUN + 200_000 })).toEqual([
      { from: BEGUN - 2_000, to: BEGUN + 100_000 },
      { from: BEGUN + 98_000, to: BEGUN + 120_000 },
    ]);
    expect(listDisturbed(earlier, { begunAt: BEGUN })).toEqual([]);
  });

  it('of a repeated step the last one counts', () => {
    const again = run(step('start', 'failed'), step('start', 'passed'));
    expect(next(again)).toMatchObject({ step: 'stop' });
    expect(next(run(step('start', 'failed')))?.says).toContain('Repeat it.');
  });

  it('is incomplete with steps left out, failed with one that failed, doubtful with one in doubt', () => {
    expect(concludeRun(run(step('start', 'passed')))).toBe('incomplete');
    const [stop, check] = [step('stop', 'doubtful'), step('check', 'passed', 'pump-1/de')];
    expect(concludeRun(run(step('start', 'failed'), stop, check))).toBe('failed');
    expect(concludeRun(run(step('start', 'passed'), stop, check))).toBe('doubtful');
    expect(tellRun(run(step('start', 'passed')))).toContain('stop: not done');
  });

  it('a step that was ended while it waited goes on no more, and is asked for again', () => {
    const waiting = { ...verdict('waiting'), says: 'counting for another 120 s', todo: 'Wait.' };
    const ended = endVerdict(waiting);
    expect(ended).toMatchObject({
      state: 'waiting',
      says: 'ended while counting for another 120 s',
      todo: '',
    });
    expect(endVerdict(verdict('failed'))).toEqual(verdict('failed'));
    const left = { ...step('start', null), endedAt: BEGUN + 1_000, verdict: ended };
    expect(findNext(run(left, step('stop', 'passed')), (each) => each.verdict!.state)).toMatchObject({
      ...{ step: 'start', says: expect.stringMatching(/^Repeat it\. /) as string },
    });
    expect(concludeRun(run(left, step('stop', 'passed'), step('check', 'passed', 'pump-1/de')))).toBe(
      'incomplete',
    );
  });
});
