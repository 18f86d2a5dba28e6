/**
 * Zero while its sisters count: healthy or dead, nobody can tell from the count; a function check can.
 * Source: our choice. A healthy motor may lie far below its group, so only a quarter of what the sisters' median predicts is
 * expected of it, and the chance of no pulse at all is that of bursts, e^(−E/φ).
 */
export const SISTERS_SHARE = 0.25;
/** One look a day and sensor. */
export const LOOKS_PER_MONTH = 30;

/** `expected`: pulses by the sisters' median over the time looked at; `share`: false notices a month that this sensor may give. */
export function isSilent(pulses: number, expected: number, dispersion: number, share: number): boolean {
  if (pulses > 0) return false;
  const tail = Math.min(0.01, share / LOOKS_PER_MONTH);
  return (SISTERS_SHARE * expected) / Math.max(1, dispersion) > -Math.log(tail);
}
