/**
 * Sends a batch until each of its records is taken or found to be refused for good: a batch that is refused is halved
 * until the record at fault stands alone.
 */
import type { CutWatch } from './cut-watch.js';
import type { Sent, SinkRecord } from './sink.js';

export interface Refused {
  readonly record: SinkRecord;
  readonly reason: string;
}

export type Delivered =
  { readonly outcome: 'done'; readonly refused: readonly Refused[] } | Extract<Sent, { outcome: 'later' }>;

/**
 * So many refused and none taken: it is not the records that are at fault. After so many attempts it may be twice as many,
 * so that bad records that stand together are passed in the end.
 */
const REFUSED_IN_A_ROW = 20;
const ATTEMPTS = 10;

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
 * `send`: one call of the sink, under its deadline, on a connection that is opened where there is none. `failures`: attempts in
 * succession that came to nothing.
 */
export async function deliver(
  records: readonly SinkRecord[],
  send: (records: readonly SinkRecord[]) => Promise<Sent>,
  cuts: CutWatch,
  failures = 0,
): Promise<Delivered> {
  const refusedMost = REFUSED_IN_A_ROW * 2 ** Math.floor(failures / ATTEMPTS);
  const refused: Refused[] = [];
  let hasTaken = false;
  let isHalving: boolean | null = null;
  let hasBlamed = false;
  const refuse = (record: SinkRecord, reason: string): void => {
    refused.push({ record, reason });
    if (!hasTaken && refused.length >= refusedMost)
      throw new GivenUp({
        outcome: 'later',
        reason: `it refuses everything: ${reason}`,
        retryAfterMs: null,
        isOpen: true,
      });
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
      hasTaken = true;
      cuts.noteTaken();
      return;
    }
    if (sent.outcome === 'later') throw new GivenUp(sent);
    const at = part.length === 1 ? 0 : sent.index;
    if (at !== null && part[at] !== undefined) {
      refuse(part[at], sent.reason);
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
    return { outcome: 'done', refused };
  } catch (error) {
    if (error instanceof GivenUp) return error.sent;
    throw error;
  }
}
