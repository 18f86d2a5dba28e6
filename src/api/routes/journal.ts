/** Routes for the journal: its entries, and the proof that they are as they were written. */
import { z } from 'zod';
import { JOURNAL_CHANGES, JOURNAL_KINDS } from '../../../shared/alarm-terms.js';
import { journalBody, journalProofBody, toJournalProofBody, toJournalRowBody } from '../journal-bodies.js';
import { orderParameter, pageParameters, toPageQuery } from '../parameters.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});

const journal = defineRoute({
  method: 'GET',
  path: '/api/v1/journal',
  summary: 'What happened and who did what, in the order in which it was written, or the newest first',
  query: z.strictObject({
    ...pageParameters,
    order: orderParameter,
    subject: z.string().min(1).max(200).optional().describe('only of this alarm, motor or part'),
    kind: z.enum(JOURNAL_KINDS).optional(),
    what: z.enum(JOURNAL_CHANGES).optional().describe('only this change, such as raised'),
  }),
  params: none,
  body: null,
  response: journalBody,
  list: 'journal',
  async handle({ query }, deps) {
    const page = await deps.reader.journal({
      ...{ ...toPageQuery(query), order: query.order },
      subject: query.subject ?? null,
      kind: query.kind ?? null,
      what: query.what ?? null,
    });
    return { journal: page.items.map(toJournalRowBody), next: page.next };
  },
});

const proof = defineRoute({
  method: 'GET',
  path: '/api/v1/journal/verify',
  summary: 'Whether the journal is as it was written, or the first entry that is not; reads all of it',
  query: z.strictObject({
    expect: z
      .string()
      .regex(/^[0-9a-f]{64}$/i, 'expected 64 hexadecimal digits')
      .optional()
      .describe(
        'digest of an entry that was noted earlier: shows entries cut off at the end, and a chain built anew',
      ),
  }),
  params: none,
  body: null,
  response: journalProofBody,
  async handle({ query }, deps) {
    return toJournalProofBody(await deps.reader.journalProof(query.expect ?? null));
  },
});

export const journalRoutes: readonly Route[] = [journal, proof];
