/** What became of an alarm while somebody was writing about it, so that what the form would do applies no longer. */
import type { AlarmBody } from '../data/bodies.js';
import { sayState } from '../parts/alarm-text.js';
import { actsFor, type Act } from './alarm-acts.js';

/** One sentence; null: the act still applies. `who`: the name that acts carry here; empty: not known. */
export function sayMeanwhile(act: Act, alarm: AlarmBody, who: string): string | null {
  if (alarm.state !== 'normal' && actsFor(alarm).includes(act)) return null;
  const tell = (did: string, by: string): string => `Meanwhile ${did} by ${by === who ? 'you' : by}.`;
  if (alarm.out_of_service) return tell('it was taken out of service', alarm.out_of_service_by);
  if (act === 'acknowledge' && alarm.acknowledged_by !== '')
    return tell('it was acknowledged', alarm.acknowledged_by);
  if (act === 'confirm' && alarm.confirmed_by !== '')
    return tell('its action was confirmed', alarm.confirmed_by);
  if (act === 'shelve' && alarm.shelved_by !== '') return tell('it was shelved', alarm.shelved_by);
  return `This applies no longer: the alarm is now ${sayState(alarm)}.`;
}
