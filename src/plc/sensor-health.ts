/**
 * Health of a sensor in the words of NAMUR NE 107, from its alarms and from what it sent last.
 * Source: OPC 10000-100 clause 4.5.4 for the words and their numbers; which alarm means which word is our choice.
 */

/** The words with their numbers. */
export const SENSOR_HEALTHS = {
  normal: 0,
  failure: 1,
  'function-check': 2,
  'out-of-specification': 3,
  'maintenance-required': 4,
} as const;
export type SensorHealth = keyof typeof SENSOR_HEALTHS;

/** Kinds of alarms about the sensor itself. Alarms about rates say nothing of its health. */
const FAILURE_KINDS = ['no-readings', 'rejecting'];
const DOUBT_KINDS = ['saturated', 'counter-unknown', 'clock-off'];
/** Zero while its sisters count: healthy or dead, a function check decides. */
const SILENCE_KIND = 'silent-in-company';

/** Null: not known, because it was not heard lately and no alarm says so yet. */
export function judgeHealth(seen: {
  readonly activeKinds: readonly string[];
  readonly isCheck: boolean;
  readonly isHeard: boolean;
}): SensorHealth | null {
  const { activeKinds, isCheck, isHeard } = seen;
  if (activeKinds.some((kind) => FAILURE_KINDS.includes(kind))) return 'failure';
  if (!isHeard) return null;
  if (isCheck) return 'function-check';
  if (activeKinds.some((kind) => DOUBT_KINDS.includes(kind))) return 'out-of-specification';
  return activeKinds.includes(SILENCE_KIND) ? 'maintenance-required' : 'normal';
}
