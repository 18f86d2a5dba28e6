/** Until when the last message of a drive says how it stands. */
import type { MotorPlan } from '../core/plan.js';
import type { LastDrive } from './deps.js';

const MISSED_HEARTBEATS = 3;

/** Three heartbeats, or until its reporter went absent; ms, Infinity: as long as its reporter is there. */
export function findKnownTo(
  { heartbeatMs }: Pick<MotorPlan, 'heartbeatMs'>,
  { at, absentFrom }: Pick<LastDrive, 'at' | 'absentFrom'>,
): number {
  const beats = heartbeatMs === null ? Infinity : at + MISSED_HEARTBEATS * heartbeatMs;
  return Math.min(beats, absentFrom ?? Infinity);
}
