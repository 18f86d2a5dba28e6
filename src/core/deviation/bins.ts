/** Names of bins that are not like conditions, and so no yardstick. */

/** The one bin of a duty group without axes. */
export const ALL_BIN = 'all';
/** Conditions changed within the increment, or the edges of the bins were not known yet. */
const UNLIKE = ['mixed', 'learning'];

export function isComparable(bin: string): boolean {
  return !UNLIKE.includes(bin);
}
