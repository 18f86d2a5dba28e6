/** A figure of how the alarms do, as people read it. Pure. */
import { formatRate } from '../times.js';

/** `unit`: as the gateway names it; a `share` becomes per cent. Few alarms over a long time are few, and not none. */
export function formatFigure(value: number | null, unit: string): string {
  if (value === null) return 'not known';
  if (unit === 'share') return `${(100 * value).toFixed(value < 0.1 ? 1 : 0)} %`;
  return value >= 10 || Number.isInteger(value) ? value.toFixed(0) : formatRate(value);
}
