/** What is known of an alarm, in sentences. */
import type { AlarmBody } from '../data/bodies.js';
import { formatMoment } from '../times.js';
import { HELD_WORDS, STATE_WORDS } from './alarm-words.js';

/** The state in words. A member of a group was not acknowledged by anybody: the alarm it stands under speaks for it. */
export function sayState(alarm: AlarmBody): string {
  const isSpokenFor =
    alarm.state === 'acknowledged' && alarm.grouped_under !== null && alarm.acknowledged_by === '';
  return isSpokenFor ? 'there, in a group' : STATE_WORDS[alarm.state];
}

/** What happened to it and by whom, one sentence each. Times in `zone`. */
export function sayActs(alarm: AlarmBody, now: number, zone: string): string[] {
  const acts: string[] = [];
  const at = (text: string): string => formatMoment(Date.parse(text), now, zone);
  if (alarm.grouped_under !== null) acts.push(`${alarm.grouped_under} stands for it.`);
  if (alarm.held_by !== null) acts.push(HELD_WORDS[alarm.held_by]);
  if (alarm.acknowledged_by !== '') acts.push(`Acknowledged by ${alarm.acknowledged_by}.`);
  if (alarm.confirmed_by !== '') acts.push(`Action taken: confirmed by ${alarm.confirmed_by}.`);
  if (alarm.shelved_until !== null)
    acts.push(
      `Shelved until ${at(alarm.shelved_until)}${alarm.shelved_once ? ' or its return' : ''} by ${alarm.shelved_by}: ${alarm.shelved_why}.`,
    );
  if (alarm.out_of_service)
    acts.push(`Taken out of service by ${alarm.out_of_service_by}: ${alarm.out_of_service_why}.`);
  if (alarm.suppressed_by !== null) acts.push(`Suppressed by design: ${alarm.suppressed_by}.`);
  const isSaid = [alarm.shelved_why, alarm.out_of_service_why, ''].includes(alarm.note);
  return isSaid ? acts : [...acts, `Note: ${alarm.note}`];
}
