/** Which condition bins can be a yardstick. */
import { LEARNING_BIN, MIXED_BIN } from '../bin-name.js';

/** No: the conditions changed within the increment, or the edges of the bins were not known yet. */
export function isComparable(bin: string): boolean {
  return bin !== MIXED_BIN && bin !== LEARNING_BIN;
}
