/**
 * Condition bins of a duty group: the cells that its axes make, and in which of them a motor is at a time. The cell is a
 * function of the drive messages, of the reading's own temperature and of time, never of the order of arrival.
 *
 * A value holds from its message on, while the run state is known, over messages that do not carry it for an hour. A value
 * that lies clear of an edge, by more than half its deadband, is on its own side; one that does not is on the side of the
 * latest message of the last hour, in the same stretch of running, that was clear; where none was, on the lower side. So a motor that runs on an edge changes bins at most once an hour.
 * Temperature has no deadband: each reading tells its own.
 * Source: our choice. Within a deadband the plain side of the newest value would flicker with every message, hence the lower.
 */
import { LEARNING_BIN, MIXED_BIN } from './bin-name.js';
import { placeAt } from './place.js';
import type { AxisName } from './plan.js';
import type { DriveRow, Increment } from './rows.js';
import { findStretch, type Stretch } from './run-state.js';

/** How far back a value may hold, and how far back it may decide on which side of an edge the motor is. */
export const LOOK_BACK_MS = 3_600_000;

/** One axis: ascending edges make edges.length + 1 cells. */
export interface Axis {
  readonly axis: AxisName;
  readonly edges: readonly number[];
  /** half the deadband: a value must be further from an edge than this to decide */
  readonly halfWidth: number;
}

/** Cells in force from a time on (ms); before it, everything is `learning`. */
export interface Grid {
  readonly axes: readonly Axis[];
  readonly from: number;
  /** names of cells that were visited, by number */
  readonly names: Map<number, string>;
}

export interface DriveContext {
  /** ascending by `at`; complete as far back as the cell looks */
  readonly drives: readonly DriveRow[];
  readonly stretches: readonly Stretch[];
}

const AXIS_WORDS: Readonly<Record<AxisName, string>> = {
  speed: 'speed',
  load: 'load',
  switching: 'switching',
  temperature: 'temperature',
  dcLink: 'dc-link',
};

export function makeGrid(axes: readonly Axis[], from: number): Grid {
  // an axis without edges divides nothing
  return { axes: axes.filter(({ edges }) => edges.length > 0), from, names: new Map() };
}

/** What a message says on an axis; null: nothing. */
function valueOf(row: DriveRow, axis: AxisName): number | null {
  switch (axis) {
    case 'speed':
      return row.speedRpm;
    case 'load':
      return row.loadPct;
    case 'switching':
      return row.switchingKhz;
    case 'dcLink':
      return row.dcLinkV;
    case 'temperature':
      return null;
  }
}

/** Start of the unbroken run of stretches of one kind that holds a stretch, or of its part after `least`. */
function startOfRun(
  stretches: readonly Stretch[],
  index: number,
  least: number,
  isOfKind: (stretch: Stretch) => boolean,
): number {
  let i = index;
  while (i > 0 && stretches[i]!.from > least && isOfKind(stretches[i - 1]!)) i--;
  return stretches[i]!.from;
}

function isKnown(stretch: Stretch): boolean {
  return stretch.state !== 'unknown';
}

function isRunning(stretch: Stretch): boolean {
  return stretch.state === 'running';
}

/** Value of an axis that holds at a message's time; null: none is known. */
export function heldValue(context: DriveContext, index: number, axis: AxisName): number | null {
  const { drives, stretches } = context;
  const newest = drives[index];
  if (newest === undefined) return null;
  const direct = valueOf(newest, axis);
  if (direct !== null) return direct;
  const oldest = newest.at - LOOK_BACK_MS;
  const known = startOfRun(stretches, findStretch(stretches, newest.at), oldest, isKnown);
  for (let i = index - 1; i >= 0 && drives[i]!.at >= Math.max(oldest, known); i--) {
    const value = valueOf(drives[i]!, axis);
    if (value !== null) return value;
  }
  return null;
}

/** Whether the motor is above an edge at a time; `index`: of the newest message up to then, `oldest`: how far back they count. */
function isAbove(context: DriveContext, index: number, oldest: number, axis: Axis, edge: number): boolean {
  const { drives } = context;
  for (let i = index; i >= 0 && drives[i]!.at >= oldest; i--) {
    const value = valueOf(drives[i]!, axis.axis);
    if (value === null) continue;
    if (axis.halfWidth === 0 || Math.abs(value - edge) > axis.halfWidth) return value >= edge;
  }
  return false;
}

/** Place on an axis: 0 to edges.length; one more: not known. */
function placeOnAxis(context: DriveContext, time: number, index: number, axis: Axis): number {
  const unknown = axis.edges.length + 1;
  const newest = context.drives[index];
  if (newest === undefined) return unknown;
  const { stretches } = context;
  const at = findStretch(stretches, time);
  if (startOfRun(stretches, at, newest.at, isKnown) > newest.at) return unknown;
  const value = heldValue(context, index, axis.axis);
  if (value === null) return unknown;
  const oldest = Math.max(time - LOOK_BACK_MS, startOfRun(stretches, at, time - LOOK_BACK_MS, isRunning));
  let place = 0;
  for (const edge of axis.edges) {
    const isClear = axis.halfWidth === 0 || Math.abs(value - edge) > axis.halfWidth;
    if (isClear ? value >= edge : isAbove(context, index, oldest, axis, edge)) place += 1;
  }
  return place;
}

function placeOfTemperature(tenths: number | null, axis: Axis): number {
  if (tenths === null) return axis.edges.length + 1;
  let place = 0;
  for (const edge of axis.edges) if (tenths / 10 >= edge) place += 1;
  return place;
}

/** Number of the cell at a time; `temperature` in tenths of a degree. */
function cellAt(grid: Grid, context: DriveContext, time: number, temperature: number | null): number {
  const index = placeAt(context.drives, time + 1) - 1;
  let cell = 0;
  for (const axis of grid.axes) {
    const place =
      axis.axis === 'temperature'
        ? placeOfTemperature(temperature, axis)
        : placeOnAxis(context, time, index, axis);
    cell = cell * (axis.edges.length + 2) + place;
  }
  return cell;
}

function nameOfPlace({ axis, edges }: Axis, place: number): string {
  const word = AXIS_WORDS[axis];
  if (place > edges.length) return `${word} ?`;
  return `${word} ${place === 0 ? '' : edges[place - 1]}..${place === edges.length ? '' : edges[place]}`;
}

/** Whether the grid can give a bin this name. */
export function hasCell(grid: Grid, name: string): boolean {
  const parts = name.split(', ');
  if (parts.length !== grid.axes.length) return false;
  return grid.axes.every((axis, i) => {
    for (let place = 0; place <= axis.edges.length + 1; place++)
      if (nameOfPlace(axis, place) === parts[i]) return true;
    return false;
  });
}

function nameOfCell(grid: Grid, cell: number): string {
  let name = grid.names.get(cell);
  if (name !== undefined) return name;
  const parts: string[] = [];
  let rest = cell;
  for (let i = grid.axes.length - 1; i >= 0; i--) {
    const axis = grid.axes[i]!;
    const places = axis.edges.length + 2;
    parts.unshift(nameOfPlace(axis, rest % places));
    rest = Math.floor(rest / places);
  }
  name = parts.join(', ');
  grid.names.set(cell, name);
  return name;
}

/** Name of the bin of a running increment; `mixed` where the cell changed within it. */
export function binOf(grid: Grid, context: DriveContext, row: Increment): string {
  if (row.to <= grid.from) return LEARNING_BIN;
  if (row.from < grid.from) return MIXED_BIN;
  const { drives } = context;
  const first = cellAt(grid, context, row.from, row.temperature);
  for (let i = placeAt(drives, row.from + 1); i < drives.length && drives[i]!.at < row.to; i++) {
    if (cellAt(grid, context, drives[i]!.at, row.temperature) !== first) return MIXED_BIN;
  }
  if (cellAt(grid, context, row.to - 1, row.temperature) !== first) return MIXED_BIN;
  return nameOfCell(grid, first);
}
