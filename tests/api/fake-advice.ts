/** Answers for the reliability engineer, for tests of the HTTP interface: one of everything, and what is asked is kept. */
import { fakePerformance } from './fake-performance.js';
import { tellBaseline } from '../../src/advice/baseline.js';
import { answerComparison } from '../../src/advice/comparison.js';
import { adviseOn } from '../../src/advice/hypotheses.js';
import { rankCandidates } from '../../src/advice/plan-list.js';
import type { CompareQuestion, QuestionAnswer } from '../../src/advice/question.js';
import type { Side } from '../../src/advice/side.js';
import type { AdviceReader } from '../../src/api/advice-reader.js';
import { motor } from '../advice/motors.js';

const HOUR_MS = 3_600_000;

export interface FakeAdvice extends AdviceReader {
  readonly asked: CompareQuestion[];
}

function side(name: string, pulses: number): Side {
  const bins = [{ bin: 'all', pulses, ms: 31 * HOUR_MS, phi: 2, isPhiUncertain: false }];
  return { name, from: 0, to: 40 * HOUR_MS, bins, days: [] };
}

function answer(question: CompareQuestion): QuestionAnswer {
  const { kind, sensor } = question;
  if (kind === 'baseline') {
    const missing = 'no bin has a yardstick yet';
    return {
      kind,
      sensor,
      comparison: null,
      missing,
      sisters: null,
      action: null,
      sentence: 'No yardstick yet.',
    };
  }
  const comparison = answerComparison(side('pump-1 DE', 6000), side('the median of its group', 1000));
  const sisters = {
    dutyGroup: 'pumps',
    placed: [{ name: 'pump-2 DE', ratio: Infinity, sharedMs: HOUR_MS }],
    leftOut: [],
    score: { motors: 4, p: 0.0001, isOdd: true, isTorn: false },
  };
  const action = { id: 7, kind: 'regreased', at: 0, end: 'de', text: 'regreased, drive end', isRemedy: true };
  return {
    kind,
    sensor,
    comparison,
    missing: '',
    sisters: kind === 'sisters' ? sisters : null,
    action: kind === 'around' ? action : null,
    sentence: comparison.sentence,
  };
}

export function makeFakeAdvice(): FakeAdvice {
  const asked: CompareQuestion[] = [];
  const list = rankCandidates([
    { motor: 'pump-1', sensors: [], actions: [], findings: [], isUndecided: false },
  ]);
  const bin = {
    bin: 'all',
    state: 'learning' as const,
    from: 0,
    to: HOUR_MS,
    pulses: 5,
    ms: HOUR_MS,
    days: 1,
  };
  const lacking = { runningMs: HOUR_MS, days: 6, pulses: 95, unsteady: '' };
  return {
    asked,
    compare: ({ question }) => {
      asked.push(question);
      if (question.kind !== 'around' || question.action === 7) return Promise.resolve(answer(question));
      const error = new Error(`pump-1 has no maintenance action ${question.action}, or it was withdrawn.`);
      return Promise.reject(Object.assign(error, { code: 'no-such-entry', hint: 'List them.' }));
    },
    baselines: (sensors) =>
      Promise.resolve(
        sensors.map((each) => tellBaseline(each, 0, [{ ...bin, phi: 1, dayPhi: null, lacking }])),
      ),
    performance: (wish) => Promise.resolve(fakePerformance(wish)),
    plan: () => Promise.resolve(list),
    dossier: () =>
      Promise.resolve({
        line: list.lines[0]!,
        standing: list.standing,
        remedies: [answer({ kind: 'around', sensor: 'pump-1/de', action: 7 })],
        advice: adviseOn(motor()),
      }),
  };
}
