/** Work that was done, in a line with its day on the site's calendar. Pure. */
import { describeAction } from '../../../shared/maintenance-terms.js';
import type { ActionRow } from '../data/advice-bodies.js';
import { formatDay } from '../times.js';

/** `Tue 3 Mar 2026: bearing replaced`. `zone`: IANA. */
export function nameWork(action: ActionRow, zone: string): string {
  return `${formatDay(Date.parse(action.at), zone)}: ${describeAction(action)}`;
}
