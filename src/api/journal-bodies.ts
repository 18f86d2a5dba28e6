/** Bodies of the journal over HTTP: the entry as it is told over MQTT, with its number and digest, and the proof of the chain. */
import { z } from 'zod';
import { journalSchema } from '../../shared/out-messages.js';
import { formatUtc, utcSchema } from '../../shared/time.js';
import { writeJournal } from '../../shared/write-messages.js';
import type { JournalProof, JournalRow } from './journal-reader.js';

const id = z.int().describe('number of the entry');
const digest = z.string().describe('SHA-256 in hexadecimal');

export const journalBody = z.object({
  journal: z.array(
    journalSchema.extend({
      id,
      digest: digest
        .nullable()
        .describe(
          'SHA-256 over the digest before it and the entry; null: written before entries were chained',
        ),
    }),
  ),
  next: z.string().nullable().describe('give it as `cursor` to get the next page; null: this is the last'),
});

export const journalProofBody = z.object({
  intact: z.boolean(),
  entries: z.int().min(0).describe('chained entries that were read, up to the fault'),
  unchained: z.int().min(0).describe('entries from before they were chained: nothing can be said about them'),
  removed: z
    .object({
      count: z.int().min(1),
      id: id.describe('number of the last one'),
      digest: digest.nullable().describe('of the last one; null: it was not chained'),
      at: utcSchema,
    })
    .nullable()
    .describe('what retention took; null: nothing yet'),
  head: z
    .object({ id, digest })
    .nullable()
    .describe(
      'the last entry: note its digest elsewhere, and give it as `expect` later; null: there is none',
    ),
  expected_id: z
    .int()
    .nullable()
    .describe('number of the entry with the digest that was expected; null: none was, or it was not met'),
  fault: z
    .object({
      kind: z.enum(['altered', 'removed', 'inserted', 'reordered', 'rewritten']),
      id: z.int().nullable().describe('first entry that is not as it was written; null: it cannot be told'),
      says: z.string(),
      advice: z.string(),
    })
    .nullable(),
});

export function toJournalRowBody(row: JournalRow): z.output<typeof journalBody>['journal'][number] {
  return { ...writeJournal(row), id: row.id, digest: row.digest };
}

export function toJournalProofBody(proof: JournalProof): z.output<typeof journalProofBody> {
  const { fault, entries, unchained, removed, head, expectedId } = proof;
  return {
    intact: fault === null,
    entries,
    unchained,
    removed:
      removed === null
        ? null
        : {
            count: removed.count,
            id: removed.id,
            digest: removed.digest === '' ? null : removed.digest,
            at: formatUtc(removed.at),
          },
    head,
    expected_id: expectedId,
    fault,
  };
}
