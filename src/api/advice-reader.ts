/** What the HTTP interface asks for the reliability engineer. Every answer comes from the reading threads. */
import type { Performance } from '../advice/alarm-performance.js';
import type { BaselineTold } from '../advice/baseline.js';
import type { Fleet } from '../advice/fleet.js';
import type { Advice } from '../advice/hypotheses.js';
import type { PlanLine, PlanList } from '../advice/plan-list.js';
import type { CompareQuestion, QuestionAnswer } from '../advice/question.js';
import type { PerformanceWish } from './alarm-performance-reader.js';

/** One motor of the plan list with all that speaks for its place. */
export interface MotorDossier {
  readonly line: PlanLine;
  readonly standing: string;
  /** before and after each remedy, one for each sensor, or what is missing */
  readonly remedies: readonly QuestionAnswer[];
  readonly advice: Advice;
}

/** Each rejects with `code` and `hint`; `code` is `no-such-entry` for a motor or an action that is not there. */
export interface AdviceReader {
  performance(wish: PerformanceWish): Promise<Performance>;
  compare(argument: { fleet: Fleet; question: CompareQuestion }): Promise<QuestionAnswer>;
  /** in the order of the sensors asked for */
  baselines(sensors: readonly string[]): Promise<readonly BaselineTold[]>;
  plan(fleet: Fleet): Promise<PlanList>;
  dossier(argument: { fleet: Fleet; motor: string }): Promise<MotorDossier>;
}
