/**
 * Who gives way to whom. Threads that serve people give way to those that take readings in and store them, so that where the cores
 * are few somebody who looks at a year keeps no sensor waiting. On Linux, and only there, a priority is that of one thread.
 */
import { readdirSync } from 'node:fs';
import { getPriority, setPriority } from 'node:os';

/** Of 0 to 19, what the scheduler calls nice: about a tenth of the share of the others. */
const NICENESS = 10;
const NICENESS_MOST = 19;

/** For the calling thread and those that it starts. */
export function giveWay(): void {
  if (process.platform === 'linux') setPriority(0, Math.max(getPriority(0), NICENESS));
}

/**
 * The helpers of Node.js collect garbage and compile for every thread, also for those that give way. They keep nearly their whole
 * share, but whoever takes readings in runs at once when it wakes, and does not wait for the end of their turn: on two busy cores
 * 99 of 100 wakes came within 0.1 ms instead of 2 to 3 (measured on Linux 6.18; one step of niceness did it). To be called before
 * any thread is started, because it is for all but the calling one.
 */
export function letHelpersGiveWay(): void {
  if (process.platform !== 'linux') return;
  const niceness = Math.min(NICENESS_MOST, getPriority(0) + 1);
  for (const thread of readdirSync('/proc/self/task')) {
    if (Number(thread) === process.pid) continue;
    try {
      setPriority(Number(thread), niceness);
    } catch {
      // it has ended meanwhile
    }
  }
}
