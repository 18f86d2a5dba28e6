/** Numbers in sentences. */

/** Three significant digits, two below 0.1, without an exponent. A counter that dead time swamps has no upper bound. */
export function format(value: number): string {
  if (value === Infinity) return 'more than can be counted';
  if (value >= 100) return value.toFixed(0);
  if (value >= 10) return value.toFixed(1);
  if (value >= 0.1 || value < SMALLEST) return value.toFixed(2);
  return value.toFixed(Math.ceil(-Math.log10(value)) + 1);
}

/** Below it a rate is less than a pulse in two years. */
const SMALLEST = 1e-6;

/** 335 s, 90 min, 50 h, 12 days: in a unit that a person can picture. */
export function sayAge(seconds: number): string {
  if (seconds < 600) return `${seconds} s`;
  if (seconds < 7200) return `${Math.round(seconds / 60)} min`;
  return seconds < 172_800 ? `${Math.round(seconds / 3600)} h` : `${Math.round(seconds / 86_400)} days`;
}

/** "3 min ahead of the gateway's", "20000 days behind the gateway's": a device's time (ms) against the time of arrival. */
export function sayOffset(at: number, receivedAt: number): string {
  const seconds = Math.round(Math.abs(at - receivedAt) / 1000);
  return `${sayAge(seconds)} ${at > receivedAt ? 'ahead of' : 'behind'} the gateway's`;
}
