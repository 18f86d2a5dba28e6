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
];
