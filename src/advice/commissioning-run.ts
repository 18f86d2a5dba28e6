/** A run of steps at one motor: what to do next, and what it comes to. Pure; whoever keeps it brings it and takes the answer. */
import type { RunState, Span, StepKind, Verdict, VerdictState } from './commissioning.js';

/** A step as it is kept. `endedAt` null: it goes on, and its verdict is worked out when somebody asks. */
export interface KeptStep {
  readonly step: StepKind;
  readonly sensor: string | null;
  readonly begunAt: number;
  readonly begunBy: string;
  readonly endedAt: number | null;
  /** null while it goes on */
  readonly verdict: Verdict | null;
}

/** A run as it is kept, times in ms. */
export interface KeptRun {
  readonly id: number;
  readonly motor: string;
  /** sensors that the motor had when it was opened */
  readonly sensors: readonly string[];
  readonly state: RunState;
  readonly openedAt: number;
  readonly openedBy: string;
  readonly closedAt: number | null;
  readonly closedBy: string;
  readonly note: string;
  readonly configuration: string;
  readonly steps: readonly KeptStep[];
}

export interface NextStep {
  readonly step: StepKind;
  readonly sensor: string | null;
  readonly says: string;
}

const ASKS: Readonly<Record<StepKind, (run: KeptRun, sensor: string | null) => string>> = {
  start: ({ motor }) => `Begin the step, then start ${motor}: which sensors hear it?`,
  stop: ({ motor }) => `Begin the step, then stop ${motor}: what do its sensors count at standstill?`,
  check: (_run, sensor) =>
    `Begin the step, then make about ten sparks near ${sensor ?? ''}: they must be counted.`,
};

/** Every step that a whole run has: a start, a stop, and a check of each sensor. */
export function listWanted(sensors: readonly string[]): Pick<NextStep, 'step' | 'sensor'>[] {
  return [
    { step: 'start', sensor: null },
    { step: 'stop', sensor: null },
    ...sensors.map((sensor) => ({ step: 'check' as const, sensor })),
  ];
}

/** The last one of its kind counts; null: it was never begun. */
export function findStep(run: KeptRun, { step, sensor }: Pick<NextStep, 'step' | 'sensor'>): KeptStep | null {
  return run.steps.filter((each) => each.step === step && each.sensor === sensor).at(-1) ?? null;
}

/** A drive's clock, or a reading's, may be a little behind. */
const SLACK_MS = 2_000;

/**
 * What the steps before this one did to the counts: the motor was started, or sparks were made. None of it is a yardstick for what
 * comes after; the standstill that a stop has counted is.
 */
export function listDisturbed(run: KeptRun, step: Pick<KeptStep, 'begunAt'>): Span[] {
  const earlier = run.steps.filter(({ begunAt }) => begunAt < step.begunAt);
  return earlier.map(({ step: kind, begunAt, endedAt, verdict }) => {
    const still = kind === 'stop' ? verdict?.span?.from : undefined;
    return { from: begunAt - SLACK_MS, to: still ?? endedAt ?? step.begunAt };
  });
}

/** `isDone`: whether a step that was begun needs no repetition. null: nothing is left to do. */
export function findNext(run: KeptRun, stateOf: (step: KeptStep) => VerdictState): NextStep | null {
  if (run.state !== 'open') return null;
  for (const wanted of listWanted(run.sensors)) {
    const done = findStep(run, wanted);
    const state = done === null ? null : stateOf(done);
    if (state === 'passed' || state === 'doubtful') continue;
    const says = ASKS[wanted.step](run, wanted.sensor);
    if (state === null) return { ...wanted, says };
    if (state === 'failed' || (done !== null && done.endedAt !== null))
      return { ...wanted, says: `Repeat it. ${says}` };
    return { ...wanted, says: tellWaiting(done?.verdict ?? null) };
  }
  return null;
}

function tellWaiting(verdict: Verdict | null): string {
  if (verdict === null) return 'It is under way.';
  const says = `${verdict.says.charAt(0).toUpperCase()}${verdict.says.slice(1)}.`;
  return verdict.todo === '' ? says : `${verdict.todo} ${says}`;
}

/** What is kept of a step that was ended: one that still waited for something waits no more. */
export function endVerdict(verdict: Verdict): Verdict {
  return verdict.state === 'waiting'
    ? { ...verdict, says: `ended while ${verdict.says}`, todo: '' }
    : verdict;
}

/** What a run comes to when it is closed now, every step having its verdict. */
export function concludeRun(run: KeptRun): Exclude<RunState, 'open' | 'abandoned'> {
  const states = listWanted(run.sensors).map((wanted) => findStep(run, wanted)?.verdict?.state ?? null);
  if (states.includes('failed')) return 'failed';
  if (states.includes(null) || states.includes('waiting')) return 'incomplete';
  return states.includes('doubtful') ? 'doubtful' : 'passed';
}

/** The run in a sentence, for lists and the journal. */
export function tellRun(run: KeptRun): string {
  const parts = listWanted(run.sensors).map((wanted) => {
    const name = wanted.sensor === null ? wanted.step : `check of ${wanted.sensor}`;
    const step = findStep(run, wanted);
    if (step === null) return `${name}: not done`;
    if (step.verdict === null) return `${name}: under way`;
    return `${name}: ${step.verdict.says}`;
  });
  const head = run.state === 'open' ? 'goes on' : run.state;
  return `commissioning of ${run.motor} ${head}; ${parts.join('; ')}`;
}
