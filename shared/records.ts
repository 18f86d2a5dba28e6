/**
 * What people enter and get back over HTTP, outside of MQTT, each with an example: documents are generated from this list.
 * What a record must satisfy beyond its shape (an end for a bearing, a note for "other") stands in `maintenance.ts` alone.
 */
import type { z } from 'zod';
import {
  actionRequest,
  actionSchema,
  findingRequest,
  findingSchema,
  type ActionBody,
  type FindingBody,
} from './maintenance.js';
import {
  forwardedSchema,
  manifestSchema,
  transientSchema,
  type ForwardedMessage,
} from './forward-messages.js';
import { notificationSchema, type Notification } from './notification.js';

export interface RecordEntry {
  readonly name: string;
  readonly title: string;
  readonly schema: z.ZodType;
  readonly example: object;
}

const action: ActionBody = {
  id: 12,
  motor: 'booster-4',
  at: '2026-03-02T09:30:00.000Z',
  entered_at: '2026-03-02T14:05:10.000Z',
  by: 'J. Field',
  note: 'outer ring coated; cable screens left as they were',
  withdrawn: null,
  action: 'bearing-replaced',
  end: 'nde',
  bearing: 'insulated',
  breaks_comparability: 'motor',
  is_remedy: true,
};

const finding: FindingBody = {
  id: 13,
  motor: 'booster-4',
  at: '2026-03-03T10:00:00.000Z',
  entered_at: '2026-03-03T10:20:00.000Z',
  by: 'J. Field',
  note: 'outer ring, load zone',
  withdrawn: null,
  end: 'nde',
  removed: true,
  modes: ['current-leakage-erosion'],
  signs: ['frosting', 'fluting'],
  lubricant: ['darkened', 'hardened'],
};

const notification: Notification = {
  id: 'shift-17-mjd7zk9c',
  site: 'tarn-hollow',
  route: 'shift',
  test: false,
  at: '2026-03-02T06:04:40.000Z',
  subject: '[tarn-hollow] low alarm: booster-4 de, rate-high',
  text: 'Site tarn-hollow, Mon 2 Mar 2026, 06:04 GMT (Europe/London) …',
  alarms: [
    {
      id: 'booster-4.de-rate-high',
      motor: 'booster-4',
      position: 'de',
      kind: 'rate-high',
      priority: 'low',
      change: 'raised',
      since: '2026-03-02T06:04:10.000Z',
      known_at: '2026-03-02T06:04:10.000Z',
      returned_at: null,
      acknowledged_by: '',
      times: 1,
      says: 'Over 10 min of running the rate is at least 131 a minute, above the setpoint of 120.',
      action: 'Compare with the other boosters; have the shaft voltage measured by a competent person.',
      consequence: 'If the rings are worn, the bearing may flute within months.',
      cautions: ['The shaft turns: nothing loose, no probe and no hand near it while it can move.'],
    },
  ],
  left_out: 0,
};

const transient = {
  motor: 'booster-4',
  from: '2026-03-02T10:29:58.000Z',
  to: '2026-03-02T10:30:25.000Z',
  edges: 2,
  kind: 'start',
  counts: [{ sensor: 'booster-4/de', pulses: 412, ms: 30_000 }],
};

const manifest = {
  sensor: 'booster-4/de',
  period: '1m',
  day: '2026-03-02T00:00:00.000Z',
  rows: 1_440,
  pulses: 18_211,
  ms: 86_400_000,
  highest_revision: 2,
} as const;

const forwarded: ForwardedMessage = {
  site: 'tarn-hollow',
  stream: 'manifests',
  key: 'booster-4/de|1m|1772409600000',
  subject: 'booster-4/de',
  revision: 1_772_496_300_007,
  at: '2026-03-02T00:00:00.000Z',
  backlog: false,
  record: manifest,
};

export const RECORDS: readonly RecordEntry[] = [
  {
    name: 'action-request',
    title: 'Maintenance action, as it is entered',
    schema: actionRequest,
    example: {
      action: 'bearing-replaced',
      end: 'nde',
      bearing: 'insulated',
      at: '2026-03-02T10:30:00+01:00',
      by: 'J. Field',
      note: action.note,
    },
  },
  { name: 'action', title: 'Maintenance action', schema: actionSchema, example: action },
  {
    name: 'finding-request',
    title: 'Finding of an inspection, as it is entered',
    schema: findingRequest,
    example: {
      end: 'nde',
      removed: true,
      at: '2026-03-03T11:00:00+01:00',
      by: 'J. Field',
      modes: finding.modes,
      signs: finding.signs,
      lubricant: finding.lubricant,
      note: finding.note,
    },
  },
  { name: 'finding', title: 'Finding of an inspection', schema: findingSchema, example: finding },
  {
    name: 'notification',
    title: 'Message about alarms, as a webhook gets it',
    schema: notificationSchema,
    example: notification,
  },
  { name: 'forwarded', title: 'Record that is forwarded', schema: forwardedSchema, example: forwarded },
  {
    name: 'transient',
    title: 'Start or stop that is forwarded',
    schema: transientSchema,
    example: transient,
  },
  { name: 'manifest', title: 'Manifest of a day', schema: manifestSchema, example: manifest },
];
