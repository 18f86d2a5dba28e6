/**
 * How the running rate follows one axis of the condition bins, all other axes alike: the evidence that tells a current that
 * needs a film, a step or a speed from one that does not.
 */
import { compare, type BinCount } from '../stats/compare.js';
import type { AxisEvidence, ConditionAxis } from './evidence.js';
import { AXES } from './observe-sensors.js';
import { unlikeReason, type Side, type SideBinSums } from './side.js';

/** Shared running of the two cells below which they are not compared: our choice. */
const SHARED_MS_MIN = 3_600_000;

/** How the name of a bin spells each axis. */
const AXIS_WORDS: Readonly<Record<string, ConditionAxis>> = {
  speed: 'speed',
  load: 'load',
  switching: 'switching',
  temperature: 'temperature',
  'dc-link': 'dcLink',
};

interface Cell {
  readonly name: string;
  /** lower edge; −Infinity where it is open */
  readonly from: number;
}

/** `speed 600..1200, load ..50` -> speed: 600..1200, load: ..50. A bin without axes has none. */
export function readBinName(bin: string): Map<ConditionAxis, Cell> {
  const cells = new Map<ConditionAxis, Cell>();
  for (const part of bin.split(', ')) {
    const found = /^(\S+) (-?[\d.]*?)\.\.(-?[\d.]*)$/.exec(part);
    if (found === null) continue;
    const [, word = '', low = '', high = ''] = found;
    const axis = AXIS_WORDS[word];
    if (axis === undefined) continue;
    cells.set(axis, { name: `${low}..${high}`, from: low === '' ? -Infinity : Number(low) });
  }
  return cells;
}

/** One entry per axis on which two cells can be compared: the two that lie furthest apart and share enough running. */
export function compareAxes(side: Side): AxisEvidence[] {
  const bins = side.bins.filter(({ bin, ms }) => ms > 0 && unlikeReason(bin) === null);
  return AXES.flatMap((axis) => compareAxis(bins, axis) ?? []);
}

function compareAxis(bins: readonly SideBinSums[], axis: ConditionAxis): AxisEvidence | null {
  const cells = new Map<string, { cell: Cell; counts: BinCount[] }>();
  for (const { bin, pulses, ms, phi } of bins) {
    const read = readBinName(bin);
    const cell = read.get(axis);
    if (cell === undefined) continue;
    const others = [...read]
      .filter(([other]) => other !== axis)
      .map(([other, { name }]) => `${other} ${name}`)
      .join(', ');
    const entry = cells.get(cell.name) ?? { cell, counts: [] };
    entry.counts.push({ bin: others, pulses, exposureMs: ms, phi });
    cells.set(cell.name, entry);
  }
  const ordered = [...cells.values()].sort((a, b) => a.cell.from - b.cell.from);
  for (let apart = ordered.length - 1; apart > 0; apart--) {
    for (let low = 0; low + apart < ordered.length; low++) {
      const found = compareCells(ordered[low]!, ordered[low + apart]!);
      if (found !== null) return { axis, ...found };
    }
  }
  return null;
}

function compareCells(
  low: { cell: Cell; counts: BinCount[] },
  high: { cell: Cell; counts: BinCount[] },
): Omit<AxisEvidence, 'axis'> | null {
  const found = compare(
    { bins: high.counts, days: null },
    { bins: low.counts, days: null },
    { confidence: 0.95, nullRatio: 1 },
  );
  if (found.exposureMs.shared < SHARED_MS_MIN || found.pulses.a + found.pulses.b === 0) return null;
  const { ratio, lower, upper } = found;
  return { low: low.cell.name, high: high.cell.name, ratio: ratio ?? Infinity, lower, upper };
}
