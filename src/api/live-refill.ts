/**
 * What a reader missed, from the store, where the ring does not reach: after a restart of the gateway, or a long absence.
 * The journal comes exactly, each entry once, by its number. Alarms come as they stand now, drives and transients as they are
 * stored, perhaps once more than needed: they have keys, and a later one replaces an earlier one. Of the rest the reader is
 * told to load it again.
 */
import type { ApiDeps } from './deps.js';
import type { JournalRow } from './journal-reader.js';
import { describeAgain, writeEvent, type ToldEvent } from './live-body.js';
import { writeMark, type LiveMark } from './live-mark.js';

const PAGE = 500;
/** Entries of one refill; whoever was away for longer reads the journal itself. */
const ENTRIES_MOST = 5_000;
/** A message may have come in so long before the commit that told of it. */
const SLACK_MS = 60_000;
/** A start or a stop becomes known so long after its end at most, save for a backlog. */
const TRANSIENT_SLACK_MS = 600_000;

export interface Refill {
  /** the last of them is `again` */
  readonly events: readonly ToldEvent[];
  /** number of the last entry of the journal among them; null: none is, and nobody knows */
  readonly journalId: number | null;
}

type Deps = Pick<ApiDeps, 'reader' | 'plan'>;

/** `mark` null: it was not understood. Rejects when the store cannot be read. */
export async function refill(mark: LiveMark | null, epoch: string, { reader }: Deps): Promise<Refill> {
  if (mark === null) return onlyAgain('unknown-id');
  const reason = mark.epoch === epoch ? 'too-far-behind' : 'restarted';
  if (mark.journalId === null) return onlyAgain(reason);
  // a number that this store has not given yet: it was restored from an older copy, or the reader made it up
  if (mark.journalId > (await reader.journalEnd())) return onlyAgain(reason);
  const { entries, lastId, isComplete } = await readEntries(mark.journalId, reader);
  const subjects = new Set(
    entries.flatMap((event) => (event.kind === 'journal' ? [event.entry.subject] : [])),
  );
  const [alarms, drives, transients] = await Promise.all([
    reader.alarms(),
    reader.drives(),
    reader.lastTransients(),
  ]);
  const load = ['rates', 'transients', 'rollups', ...(isComplete ? [] : ['journal', 'alarms'])];
  const events: ToldEvent[] = [
    ...entries,
    ...alarms.filter(({ id }) => subjects.has(id)).map((alarm) => ({ kind: 'alarm' as const, alarm })),
    ...drives
      .filter(({ receivedAt }) => receivedAt >= mark.at - SLACK_MS)
      .map((drive) => ({ kind: 'drive' as const, drive })),
    ...transients
      .filter(({ to }) => to >= mark.at - TRANSIENT_SLACK_MS)
      .map((transient) => ({ kind: 'transient' as const, transient })),
    { kind: 'again', again: describeAgain(reason, load) },
  ];
  return { events, journalId: lastId };
}

function onlyAgain(reason: 'restarted' | 'too-far-behind' | 'unknown-id'): Refill {
  return { events: [{ kind: 'again', again: describeAgain(reason, ['everything']) }], journalId: null };
}

async function readEntries(after: number, reader: Deps['reader']) {
  const entries: ToldEvent[] = [];
  let lastId = after;
  while (entries.length < ENTRIES_MOST) {
    const page = await reader.journalSince({ id: lastId, limit: PAGE });
    entries.push(...page.map(toEvent));
    lastId = page.at(-1)?.id ?? lastId;
    if (page.length < PAGE) return { entries, lastId, isComplete: true };
  }
  return { entries, lastId, isComplete: false };
}

function toEvent({ id, digest: _digest, ...entry }: JournalRow): ToldEvent {
  return { kind: 'journal', entry, id };
}

/** No start of a gateway is called so: whoever breaks off within a refill gets the rest of it from the store. */
const REFILLING = 'refill';

/**
 * The refill as it goes over the wire. `asked`: where the reader stood; `place`: where it stands after it. The id of each event on
 * the way says no more than what was told so far.
 */
export function writeRefill(
  { events }: Refill,
  asked: LiveMark | null,
  place: LiveMark,
  plan: ReturnType<Deps['plan']>,
): string {
  let journalId = asked?.journalId ?? null;
  return events
    .map((event) => {
      if (event.kind === 'journal') journalId = event.id;
      const mark = event.kind === 'again' ? place : { ...(asked ?? place), epoch: REFILLING, journalId };
      return writeEvent(event, writeMark(mark), plan);
    })
    .join('');
}
