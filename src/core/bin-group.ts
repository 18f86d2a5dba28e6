/**
 * Duty groups with condition bins: their cells, fixed by the configuration or learnt, and what is kept of them. Only a
 * person learns anew, by changing what the configuration says of the axis.
 */
import { makeGrid, type Axis, type Grid } from './bin.js';
import {
  emptyHistogram,
  histogramRecord,
  toHistogram,
  type Histogram,
  type HistogramRecord,
} from './bin-learning.js';
import type { AxisName, AxisPlan, DutyGroupPlan } from './plan.js';

/** What a group has seen so far of the axes it learns. */
export interface Learning {
  /** start of the first ten minutes that ran; null: none did */
  firstAt: number | null;
  /** running time of its motors, each counted once however many sensors it has */
  runningMs: number;
  /** start of the newest ten minutes seen of each motor */
  seen: Map<string, number>;
  values: Map<AxisName, Histogram>;
}

export interface GroupState {
  plan: DutyGroupPlan;
  grid: Grid;
  /** null: nothing is left to learn */
  learning: Learning | null;
  /** axes that were learnt */
  learnt: Axis[];
}

export interface GroupRecord {
  /** of what is to be learnt: another one learns anew */
  wanted: string;
  from?: number;
  learnt?: Axis[];
  learning?: {
    firstAt: number | null;
    runningMs: number;
    seen: [string, number][];
    values: [AxisName, HistogramRecord][];
  };
}

function wantedOf(plan: DutyGroupPlan): string {
  const wanted = plan.axes.filter(({ learn }) => learn > 0);
  return JSON.stringify(wanted.map(({ axis, learn, learnSince }) => [axis, learn, learnSince]));
}

/** Cells of the group's axes; those that are learnt from `learnt`. */
export function gridOf(plan: DutyGroupPlan, learnt: readonly Axis[], from: number): Grid {
  const axes = plan.axes.flatMap(({ axis, edges, deadband }): Axis[] => {
    if (edges !== null) return [{ axis, edges, halfWidth: deadband / 2 }];
    return learnt.filter((found) => found.axis === axis);
  });
  return makeGrid(axes, from);
}

export function learnsOf(plan: DutyGroupPlan): AxisPlan[] {
  return plan.axes.filter(({ learn }) => learn > 0);
}

export function newGroup(plan: DutyGroupPlan): GroupState {
  if (learnsOf(plan).length === 0)
    return { plan, grid: gridOf(plan, [], -Infinity), learning: null, learnt: [] };
  const values = new Map(learnsOf(plan).map(({ axis }) => [axis, emptyHistogram()]));
  return {
    plan,
    grid: makeGrid([], Infinity),
    learning: { firstAt: null, runningMs: 0, seen: new Map(), values },
    learnt: [],
  };
}

export function groupRecord({ plan, grid, learning, learnt }: GroupState): GroupRecord {
  const wanted = wantedOf(plan);
  if (learning === null) return { wanted, from: grid.from, learnt };
  const { firstAt, runningMs, seen, values } = learning;
  const histograms = [...values].map(([axis, found]): [AxisName, HistogramRecord] => [
    axis,
    histogramRecord(found),
  ]);
  return { wanted, learning: { firstAt, runningMs, seen: [...seen], values: histograms } };
}

/** Takes up what was learnt; another wish in the plan begins anew. */
export function restoreGroup(group: GroupState, record: GroupRecord): void {
  if (group.learning === null || record.wanted !== wantedOf(group.plan)) return;
  if (record.learning !== undefined) {
    const { firstAt, runningMs, seen, values } = record.learning;
    const histograms = values.map(([axis, found]): [AxisName, Histogram] => [axis, toHistogram(found)]);
    group.learning = { firstAt, runningMs, seen: new Map(seen), values: new Map(histograms) };
    return;
  }
  group.learnt = record.learnt ?? [];
  group.grid = gridOf(group.plan, group.learnt, record.from ?? -Infinity);
  group.learning = null;
}
