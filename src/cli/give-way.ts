/** The threads that serve people give way to those that take readings in and store them. */
import { setPriority } from 'node:os';

/** Of 0 to 19, what the scheduler calls nice: about a tenth of the share of the others. */
const NICENESS = 10;

/** For the calling thread and those that it starts: on Linux, and only there, a priority is that of one thread. */
export function giveWay(): void {
  if (process.platform === 'linux') setPriority(0, NICENESS);
}
