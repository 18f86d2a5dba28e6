/** Why an input does not apply to an alarm as it stands: a word for programs, a sentence and a hint for people. */

export const REFUSALS = {
  'unknown-alarm': ['There is no such alarm.', 'The list of alarms has their ids.'],
  'gateway-alarm': [
    'It is an alarm of the gateway itself, which can store nothing while it stands.',
    'It ends by itself once its cause is gone.',
  ],
  'active-already': ['It is active already.', 'Nothing need be done.'],
  'not-active': ['It is not active.', 'Nothing need be done.'],
  notice: ['It is a notice, which asks nothing of the operator.', 'Nothing need be done.'],
  'nothing-to-acknowledge': ['It has nothing to acknowledge.', 'Somebody may have done so already.'],
  'nothing-to-confirm': ['It has nothing to confirm.', 'Somebody may have done so already.'],
  'acknowledge-first': ['Nobody has acknowledged it yet.', 'Acknowledge it first.'],
  'not-latched': ['It is not latched.', 'Only an alarm that latches is reset.'],
  'still-active': ['Its condition still stands.', 'It can be reset once it has returned.'],
  'until-past': ['The shelf would have ended already.', 'Give a time that lies ahead.'],
  'until-too-far': [
    'The shelf would last longer than the configuration allows.',
    'Give an earlier end, or take the alarm out of service; alarms.shelfHoursMax is the limit.',
  ],
  'not-shelved': ['It is not shelved.', 'Its shelf may have ended.'],
  'out-of-service-already': ['It is out of service already.', 'Return it to service first.'],
  'in-service-already': ['It is in service.', 'Nothing need be done.'],
  'suppressed-already': ['It is suppressed by that rule already.', 'Nothing need be done.'],
  'not-suppressed': ['It is not suppressed.', 'Nothing need be done.'],
  'held-already': ['It is held for that already.', 'Nothing need be done.'],
  'not-held': ['It is not held.', 'Nothing need be done.'],
  'grouped-already': ['It is grouped under that alarm already.', 'Nothing need be done.'],
  'not-grouped': ['It is not grouped.', 'Nothing need be done.'],
} as const satisfies Readonly<Record<string, readonly [says: string, hint: string]>>;

export type AlarmRefusal = keyof typeof REFUSALS;
