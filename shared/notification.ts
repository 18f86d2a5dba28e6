/**
 * What a webhook gets: one message about one or more alarms. The text of an e-mail is made from the same record.
 * A message with the same `id` is the same message sent again; a receiver that has it already drops it.
 */
import { z } from 'zod';
import { ALARM_PRIORITIES } from './alarm-terms.js';
import { utcSchema } from './time.js';

/** What happened to an alarm since the last message on the same route. */
export const NOTIFIED_CHANGES = [
  'raised',
  'returned',
  'raised-and-returned',
  'acknowledged',
  'escalated',
] as const;
export type NotifiedChange = (typeof NOTIFIED_CHANGES)[number];

export const notifiedAlarmSchema = z
  .object({
    id: z.string().describe('<motor>.<alarm>, as in the alarm list'),
    motor: z.string(),
    position: z.string().nullable().describe('null: the alarm is not of one sensor'),
    kind: z.string(),
    priority: z.enum(ALARM_PRIORITIES),
    change: z.enum(NOTIFIED_CHANGES).describe('escalated: nobody has acknowledged it in its time to respond'),
    since: utcSchema.nullable().describe('when it was raised; null: that entry of the journal is gone'),
    known_at: utcSchema
      .nullable()
      .describe('when the gateway knew; later than `since` where readings came late'),
    returned_at: utcSchema.nullable().describe('null: it stands'),
    acknowledged_by: z.string().describe('empty: nobody had, when this was written'),
    times: z.int().min(1).describe('how often it was raised since the last message'),
    says: z.string().describe('the reason in one sentence; evidence, never a diagnosis'),
    action: z.string().describe('what the operator is asked to do'),
    consequence: z.string().describe('what it may come to if nobody acts'),
    cautions: z.array(z.string()).describe('for whoever goes near a shaft or terminals because of it'),
  })
  .describe('One alarm of a message');

export const notificationSchema = z
  .object({
    id: z.string().describe('the same in each attempt; also the header Idempotency-Key'),
    site: z.string(),
    route: z.string(),
    test: z.boolean().describe('true: somebody tries the route; there is no alarm'),
    at: utcSchema.describe('when the message was put together'),
    subject: z.string(),
    text: z.string().describe('the whole message in plain words, as an e-mail has it'),
    alarms: z.array(notifiedAlarmSchema).describe('the most urgent first'),
    left_out: z.int().min(0).describe('further alarms that this message only counts; see the journal'),
  })
  .describe('A message about alarms. Never an interlock, a trip or a protection input');

export type NotifiedAlarm = z.output<typeof notifiedAlarmSchema>;
export type Notification = z.output<typeof notificationSchema>;
