/** What a person can do to an alarm: when it applies, its words, and its request. */
import { postBody } from '../data/api-client.js';
import type { ActResultsBody, AlarmBody } from '../data/bodies.js';
import { readNow } from '../data/clock.js';
import { takeAlarm } from '../data/plant.js';
import { isWaiting } from '../parts/alarm-words.js';

export const ACTS = [
  'acknowledge',
  'confirm',
  'shelve',
  'unshelve',
  'reset',
  'out-of-service',
  'return-to-service',
] as const;
export type Act = (typeof ACTS)[number];

interface ActWords {
  /** on the button that opens the form */
  readonly name: string;
  /** what it means, above the form */
  readonly says: string;
  /** the journal wants to know why */
  readonly isNoteNeeded: boolean;
}

export const ACT_WORDS: Readonly<Record<Act, ActWords>> = {
  acknowledge: { name: 'Acknowledge', says: 'You have seen it and take care of it.', isNoteNeeded: false },
  confirm: { name: 'Action taken', says: 'What it asks for has been done.', isNoteNeeded: false },
  shelve: {
    name: 'Shelve',
    says: 'It is hidden for a while and goes on underneath; it comes back by itself.',
    isNoteNeeded: true,
  },
  unshelve: { name: 'Take off the shelf', says: 'It is shown again as it stands.', isNoteNeeded: false },
  reset: {
    name: 'Reset',
    says: 'Ends an alarm that latches, once its condition is gone.',
    isNoteNeeded: false,
  },
  'out-of-service': {
    name: 'Out of service',
    says: 'Nobody is told of it until somebody returns it. Use the shelf for less.',
    isNoteNeeded: true,
  },
  'return-to-service': {
    name: 'Return to service',
    says: 'It is judged and told again.',
    isNoteNeeded: false,
  },
};

/** What applies to the alarm as it stands, the likeliest first. An alarm of the gateway itself takes none: it stores nothing. */
export function actsFor(alarm: AlarmBody): Act[] {
  if (alarm.state === 'out-of-service') return ['return-to-service'];
  const acts: Act[] = [];
  if (isWaiting(alarm) || !alarm.acknowledged) acts.push('acknowledge');
  if (alarm.acknowledged && !alarm.confirmed) acts.push('confirm');
  if (alarm.latched && alarm.acknowledged && !alarm.active) acts.push('reset');
  acts.push(alarm.shelved_until === null ? 'shelve' : 'unshelve');
  acts.push('out-of-service');
  return acts;
}

export interface Wish {
  readonly who: string;
  readonly note: string;
  /** of a shelf */
  readonly forMs?: number;
  /** the shelf ends with the next return too */
  readonly once?: boolean;
}

/** What became of each of several alarms. */
export interface ManyAnswer {
  readonly done: number;
  /** one sentence for each that it was not done to */
  readonly refused: readonly string[];
}

/** Acknowledges them together; what came of it the live stream tells. Rejects with `ApiProblem`. */
export async function acknowledgeMany(
  alarms: readonly string[],
  wish: { readonly who: string; readonly note: string },
): Promise<ManyAnswer> {
  const { results } = await postBody<ActResultsBody>('/alarms/acknowledge', { ...wish, alarms });
  const refused = results.flatMap(({ id, done, says }) => (done ? [] : [`${id}: ${says}`]));
  return { done: results.length - refused.length, refused };
}

/** Does it, and shows the answer at once. Rejects with `ApiProblem`. */
export async function perform(act: Act, id: string, { who, note, forMs, once }: Wish): Promise<void> {
  const shelf =
    forMs === undefined ? {} : { until: new Date(readNow() + forMs).toISOString(), once: once === true };
  const path = `/alarms/${encodeURIComponent(id)}/${act}`;
  takeAlarm(await postBody<AlarmBody>(path, { who, note, ...shelf }));
}
