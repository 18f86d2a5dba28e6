/** Which condition bins can be a yardstick, and which there are. */
import { hasCell } from '../bin.js';
import type { GroupState } from '../bin-group.js';
import { ALL_BIN, LEARNING_BIN, MIXED_BIN } from '../bin-name.js';

/** No: the conditions changed within the increment, or the edges of the bins were not known yet. */
export function isComparable(bin: string): boolean {
  return bin !== MIXED_BIN && bin !== LEARNING_BIN;
}

/**
 * Whether the motor can still run in a bin of this name. `group`: its duty group; null: that has no axes. While edges are
 * learnt nobody knows.
 */
export function mayOccur(group: GroupState | null, bin: string): boolean {
  if (group === null) return bin === ALL_BIN;
  if (group.learning !== null) return true;
  return group.grid.axes.length === 0 ? bin === ALL_BIN : hasCell(group.grid, bin);
}
