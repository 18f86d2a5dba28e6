/**
 * Sends a batch until each of its records is taken or found to be refused for good: a batch that is refused is halved
 * until the record at fault stands alone.
 */
import type { CutWatch } from './cut-watch.js';
import type { Refusals } from './refusals.js';
import type { Sent, SinkRecord } from './sink.js';

export interface Refused {
  readonly record: SinkRecord;
  readonly reason: string;
}

export type Delivered =
  { readonly outcome: 'done'; readonly refused: readonly Refused[] } | Extract<Sent, { outcome: 'later' }>;

const CUT_ALWAYS = {
  outcome: 'later',
  reason: 'it ends the connection whatever is sent: look at its log',
  retryAfterMs: null,
} as const;

class GivenUp extends Error {
  constructor(readonly sent: Extract<Sent, { outcome: 'later' }>) {
    super(sent.reason);
  }
}

/**
 * `send`: one call of the sink, under its deadline, on a connection that is opened where there is none. `cuts` and `refusals`: of
 * the lane, over all its batches.
 */
export async function deliver(
  records: readonly SinkRecord[],
  send: (records: readonly SinkRecord[]) => Promise<Sent>,
  cuts: CutWatch,
  refusals: Refusals,
): Promise<Delivered> {
  const refused: Refused[] = [];
  let hasTaken = false;
  let isHalving: boolean | null = null;
  let hasBlamed = false;
  const refuse = async (record: SinkRecord, reason: string): Promise<void> => {
    refused.push({ record, reason });
    if (!refusals.noteRefused()) return;
    // another record tells a bad stretch from a receiver that refuses everything
    const last = records[records.length - 1]!;
    const sent = last === record ? null : await send([last]);
    if (sent?.outcome === 'taken') {
      noteTaken();
      return;
    }
    refusals.notePutOff();
    if (sent?.outcome === 'later') throw new GivenUp(sent);
    throw new GivenUp({
      outcome: 'later',
      reason: `it refuses everything: ${reason}`,
      retryAfterMs: null,
      isOpen: true,
    });
  };
  const noteTaken = (): void => {
    hasTaken = true;
    cuts.noteTaken();
    refusals.noteTaken();
  };
  const sendPart = async (part: readonly SinkRecord[]): Promise<void> => {
    if (part.length === 0) return;
    let sent = await send(part);
    if (sent.outcome === 'later' && sent.isCut === true) {
      isHalving ??= cuts.noteCut(records);
      // alone, and a second time: it is this one
      if (isHalving && part.length === 1) sent = await send(part);
      if (isHalving && sent.outcome === 'later' && sent.isCut === true) {
        hasBlamed ||= part.length === 1;
        sent = {
          outcome: 'refused',
          reason: `${sent.reason} each time that this record came: it may be larger than it allows`,
          index: null,
        };
      }
    }
    if (sent.outcome === 'taken') {
      noteTaken();
      return;
    }
    if (sent.outcome === 'later') throw new GivenUp(sent);
    const at = part.length === 1 ? 0 : sent.index;
    if (at !== null && part[at] !== undefined) {
      await refuse(part[at], sent.reason);
      await sendPart([...part.slice(0, at), ...part.slice(at + 1)]);
      return;
    }
    const half = Math.ceil(part.length / 2);
    await sendPart(part.slice(0, half));
    await sendPart(part.slice(half));
  };
  try {
    await sendPart(records);
    if (hasBlamed && !cuts.hasTaken) throw new GivenUp(CUT_ALWAYS);
    if (hasTaken && refused.length > 0) refusals.noteMixed();
    return { outcome: 'done', refused };
  } catch (error) {
    if (error instanceof GivenUp) return error.sent;
    throw error;
  }
}
