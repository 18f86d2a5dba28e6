/**
 * Keeps runs of guided commissioning in the store and works out what they show. Nothing is held in memory, so that a run goes
 * on over a restart; one change at a time, so that two people at one run do not overwrite one another.
 */
import {
  BEFORE_MS,
  cutSlices,
  findSpan,
  PATIENCE_MS,
  pickLoudest,
  type HeardCounts,
  type Span,
  type StepEvidence,
  type StepKind,
  type Verdict,
} from '../advice/commissioning.js';
import {
  concludeRun,
  endVerdict,
  listDisturbed,
  tellRun,
  type KeptRun,
  type KeptStep,
} from '../advice/commissioning-run.js';
import { judgeStep } from '../advice/commissioning-verdict.js';
import type { CheckMark } from './commissioning-reader.js';
import type { ApiDeps } from './deps.js';

/** Runs that are kept; the oldest makes room. Our choice: two of each motor of a big plant. */
export const RUNS_KEPT_MOST = 2_000;
/** Steps of one run, repetitions included. */
const STEPS_MOST = 60;
/** Sensors of other motors that are looked at: those of the same zone first. */
const OTHERS_MOST = 200;
const RECENT_RUNS = 100;
/** Of the result in the journal; the whole of it is in the run. */
const JOURNAL_TEXT_MOST = 1_000;

export type RunRefusal =
  'unknown-motor' | 'unknown-sensor' | 'no-such-run' | 'open-already' | 'closed' | 'too-many-steps';

export type RunAnswer =
  { readonly ok: true; readonly run: KeptRun } | { readonly ok: false; readonly reason: RunRefusal };

export type EndOfRun = 'finish' | 'abandon';

type Deps = Pick<ApiDeps, 'reader' | 'plan' | 'now' | 'commissioning'>;

export class CommissioningDesk {
  #turn: Promise<unknown> = Promise.resolve();

  constructor(readonly deps: Deps) {}

  begin(motor: string, who: string, note: string): Promise<RunAnswer> {
    return this.#inTurn(async () => {
      const { reader, plan, now } = this.deps;
      if (!plan().motors.has(motor)) return refuse('unknown-motor');
      const newest = await reader.keptRuns({ motor: null, limit: RECENT_RUNS, cursor: null });
      const recent = newest.items.map(parseRun);
      if (recent.some((run) => run.motor === motor && run.state === 'open')) return refuse('open-already');
      const run: KeptRun = {
        ...{ id: (recent[0]?.id ?? 0) + 1, motor, sensors: sensorsOf(this.deps, motor), state: 'open' },
        ...{ openedAt: now(), openedBy: who, closedAt: null, closedBy: '', note },
        ...{ configuration: plan().revision, steps: [] },
      };
      return this.#keep(run, who, `commissioning of ${motor} begun`, []);
    });
  }

  /** Ends the step that goes on, with the verdict that it has now. */
  beginStep(id: number, step: StepKind, sensor: string | null, who: string): Promise<RunAnswer> {
    return this.#inTurn(async () => {
      const run = await this.find(id);
      if (run === null) return refuse('no-such-run');
      if (run.state !== 'open') return refuse('closed');
      if ((step === 'check') !== (sensor !== null)) return refuse('unknown-sensor');
      if (sensor !== null && !run.sensors.includes(sensor)) return refuse('unknown-sensor');
      if (run.steps.length >= STEPS_MOST) return refuse('too-many-steps');
      const fresh = { step, sensor, begunBy: who, endedAt: null, verdict: null };
      const steps = [...(await this.#freeze(run)), { ...fresh, begunAt: this.deps.now() }];
      const begins: CheckMark[] = sensor === null ? [] : [{ sensor, act: 'begin', who }];
      return this.#keep({ ...run, steps }, who, null, [...endChecks(run, who), ...begins]);
    });
  }

  end(id: number, how: EndOfRun, who: string, note: string): Promise<RunAnswer> {
    return this.#inTurn(async () => {
      const run = await this.find(id);
      if (run === null) return refuse('no-such-run');
      if (run.state !== 'open') return refuse('closed');
      const frozen = { ...run, steps: await this.#freeze(run) };
      const state = how === 'abandon' ? 'abandoned' : concludeRun(frozen);
      const said = [run.note, note].filter((each) => each !== '').join('; ');
      const closed: KeptRun = { ...frozen, state, closedAt: this.deps.now(), closedBy: who, note: said };
      const says = tellRun(closed).slice(0, JOURNAL_TEXT_MOST);
      return this.#keep(closed, who, note === '' ? says : `${says}; ${note}`, endChecks(run, who));
    });
  }

  async find(id: number): Promise<KeptRun | null> {
    const json = await this.deps.reader.keptRun(id);
    return json === null ? null : parseRun(json);
  }

  /** The steps of a run with the verdict of the one that goes on. */
  async showSteps(run: KeptRun): Promise<(KeptStep & { readonly verdict: Verdict })[]> {
    const steps = [];
    for (const step of run.steps)
      steps.push({ ...step, verdict: step.verdict ?? (await this.judge(run, step, this.deps.now())) });
    return steps;
  }

  /** The verdict on a step with what the store holds, as if it ended at `now`. */
  async judge(run: KeptRun, step: KeptStep, now: number): Promise<Verdict> {
    const { reader, plan } = this.deps;
    const { motors, sensors, gate } = plan();
    const motor = motors.get(run.motor);
    const until = Math.min(now, step.begunAt + PATIENCE_MS[step.step] + 2 * BEFORE_MS);
    const drives = await reader.driveChanges({
      ...{ motors: [...motors.keys()], from: step.begunAt - 2_000, to: until + 2_000 },
    });
    const intervals = run.sensors.map((key) => sensors.get(key)?.intervalMs ?? 0);
    const evidence: StepEvidence = {
      ...{ motor: run.motor, sensor: step.sensor, hasRunState: motor?.hasRunState ?? false },
      ...{ begunAt: step.begunAt, now, intervalMs: Math.max(0, ...intervals), drives, span: null, heard: [] },
      coupled: [...sensors.values()].flatMap(({ key, coupledMotors }) =>
        coupledMotors.includes(run.motor) ? [key] : [],
      ),
    };
    const { beforeEdgeMs: beforeMs, afterRunningMs, afterStoppedMs, capMs } = gate;
    const span = findSpan(step.step, evidence, { beforeMs, afterRunningMs, afterStoppedMs, capMs });
    if (span === null) return judgeStep(step.step, evidence);
    const skip = listDisturbed(run, step).filter(({ to }) => to > span.from - BEFORE_MS);
    const sensorsAsked = [...run.sensors, ...othersOf(this.deps, run)];
    const hear = (slice: Span): Promise<readonly HeardCounts[]> => {
      const parts = { sensors: sensorsAsked, motor: run.motor, isWhole: step.step === 'stop' };
      return reader.heard({ ...parts, ...slice, before: span.from, beforeMs: BEFORE_MS, skip });
    };
    if (step.step !== 'check') return judgeStep(step.step, { ...evidence, span, heard: await hear(span) });
    const { slices, most } = cutSlices(span, evidence.intervalMs);
    const heard = pickLoudest(await Promise.all(slices.map(hear)));
    return judgeStep('check', { ...evidence, span, heard, slices: most });
  }

  async #freeze(run: KeptRun): Promise<KeptStep[]> {
    const now = this.deps.now();
    const steps: KeptStep[] = [];
    for (const step of run.steps) {
      if (step.verdict !== null) steps.push(step);
      else steps.push({ ...step, endedAt: now, verdict: endVerdict(await this.judge(run, step, now)) });
    }
    return steps;
  }

  async #keep(
    run: KeptRun,
    who: string,
    text: string | null,
    checks: readonly CheckMark[],
  ): Promise<RunAnswer> {
    const entry = text === null ? null : { motor: run.motor, who, text };
    await this.deps.commissioning.keep(run.id % RUNS_KEPT_MOST, JSON.stringify(run), entry, checks);
    return { ok: true, run };
  }

  #inTurn<T>(work: () => Promise<T>): Promise<T> {
    const done = this.#turn.then(work, work);
    this.#turn = done.catch(() => undefined);
    return done;
  }
}

export function parseRun(json: string): KeptRun {
  return JSON.parse(json) as KeptRun;
}

function refuse(reason: RunRefusal): RunAnswer {
  return { ok: false, reason };
}

/** The check that goes on in a run, if one does: it ends with its step. */
function endChecks(run: KeptRun, who: string): CheckMark[] {
  return run.steps.flatMap(({ sensor, verdict }) =>
    sensor === null || verdict !== null ? [] : [{ sensor, act: 'end' as const, who }],
  );
}

function sensorsOf({ plan }: Deps, motor: string): string[] {
  return [...plan().sensors.values()].filter((sensor) => sensor.motor === motor).map(({ key }) => key);
}

/** Whoever may have heard it instead: first those of the same zone. */
function othersOf({ plan }: Deps, run: KeptRun): string[] {
  const { motors, sensors } = plan();
  const zone = motors.get(run.motor)?.zone;
  const others = [...sensors.values()].filter(({ motor }) => motor !== run.motor);
  const isNear = ({ motor }: { motor: string }): boolean => motors.get(motor)?.zone === zone;
  return [...others.filter(isNear), ...others.filter((each) => !isNear(each))]
    .slice(0, OTHERS_MOST)
    .map(({ key }) => key);
}
