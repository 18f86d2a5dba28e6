/** From the duty groups of the file to the axes that the core divides running by, and what is wrong with them. */
import { readTime } from '../../shared/time.js';
import type { AxisName, AxisPlan, DutyGroupPlan } from '../core/plan.js';
import type { DutyGroupsContent } from './duty-group-schema.js';
import { formatNumber } from './figures.js';
import type { Path } from './problem.js';
import type { Report } from './report.js';
import { suggestWord } from './suggestion.js';

/** In the order in which a bin's name tells them. */
const AXES: readonly AxisName[] = ['speed', 'load', 'switching', 'temperature', 'dcLink'];

/** Widest deadband taken by default. Our choice: about what a steady drive's reports scatter. */
const DEADBAND_MAX: Readonly<Record<AxisName, number>> = {
  speed: 20,
  load: 4,
  switching: 0.2,
  temperature: 0,
  dcLink: 10,
};
const DEADBAND_SHARE = 0.25;

/** Most bins of a group. Our choice: a baseline needs 20 h in each, which hundreds never get. */
const CELLS_MAX = 100;

type FileAxis = NonNullable<NonNullable<DutyGroupsContent[string]['bins']>[AxisName]>;

/** Groups that have axes. `used`: the groups that motors name. */
export function buildDutyGroups(
  content: DutyGroupsContent,
  used: readonly string[],
  report: Report,
): DutyGroupPlan[] {
  return Object.entries(content).flatMap(([key, group]) => {
    const path = ['dutyGroups', key];
    if (!used.includes(key)) {
      const suggestion = suggestWord(key, [...used]);
      report.error(path, 'a duty group that a motor names', `"${key}"`, { at: 'key', suggestion });
    }
    const axes = AXES.flatMap((axis) => {
      const given = group.bins?.[axis];
      return given === undefined ? [] : [buildAxis(axis, given, [...path, 'bins', axis], report)];
    });
    const cells = axes.reduce((product, { edges, learn }) => product * ((edges?.length ?? learn - 1) + 1), 1);
    if (cells > CELLS_MAX) {
      const hint = 'each bin needs about 20 running hours before it can be compared';
      const expected = `at most ${CELLS_MAX} bins over all axes`;
      report.error([...path, 'bins'], expected, formatNumber(cells), { at: 'key', hint });
    }
    return axes.length === 0 ? [] : [{ key, axes }];
  });
}

function buildAxis(axis: AxisName, given: FileAxis, path: Path, report: Report): AxisPlan {
  const { edges, learn, since } = given;
  if ((edges === undefined) === (learn === undefined)) {
    const found = edges === undefined ? 'neither' : 'both';
    report.error(path, 'either edges or learn', found, { at: 'key' });
  }
  if (since !== undefined && learn === undefined)
    report.error([...path, 'since'], 'since only beside learn', `"${since}"`, { at: 'key' });
  if (given.deadband !== undefined) checkDeadband(axis, given, path, report);
  edges?.forEach((edge, i) => {
    const before = edges[i - 1];
    if (before !== undefined && edge <= before) {
      report.error([...path, 'edges', i], `more than ${formatNumber(before)}`, formatNumber(edge), {
        hint: 'edges ascend',
      });
    }
  });
  return {
    axis,
    edges: edges ?? null,
    deadband: edges === undefined ? 0 : (given.deadband ?? defaultDeadband(axis, edges)),
    learn: edges === undefined ? (learn ?? 0) : 0,
    learnSince: since === undefined ? null : readTime(since),
  };
}

function narrowestOf(edges: readonly number[]): number {
  return Math.min(...edges.slice(1).map((edge, i) => edge - edges[i]!));
}

function defaultDeadband(axis: AxisName, edges: readonly number[]): number {
  return Math.min(DEADBAND_MAX[axis], DEADBAND_SHARE * narrowestOf(edges));
}

function checkDeadband(axis: AxisName, { edges, deadband }: FileAxis, path: Path, report: Report): void {
  const at = [...path, 'deadband'];
  const found = formatNumber(deadband!);
  if (axis === 'temperature') {
    const hint = 'each reading is judged by its own temperature';
    report.error(at, 'no deadband on temperature', found, { at: 'key', hint });
  } else if (edges === undefined) {
    report.error(at, 'no deadband beside learn, which finds its own', found, { at: 'key' });
  } else if (deadband! >= narrowestOf(edges) && narrowestOf(edges) > 0) {
    const expected = `less than the narrowest bin, ${formatNumber(narrowestOf(edges))}`;
    report.error(at, expected, found);
  }
}
