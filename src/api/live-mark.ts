/**
 * Where a reader of the live stream stands: the id of each event. It says which start of the gateway numbered it, so that
 * a number of before a restart is never taken for one of after it, and how far the journal had come, which outlives a restart.
 * Source: `Last-Event-ID` of the "Server-sent events" section of the HTML standard.
 */

export interface LiveMark {
  /** of this start of the gateway */
  readonly epoch: string;
  /** number of the event within it */
  readonly seq: number;
  /** number of the last entry of the journal that was told; null: not known */
  readonly journalId: number | null;
  /** gateway's clock at the event, ms */
  readonly at: number;
}

const PATTERN = /^([0-9a-z]{1,12})-(\d{1,15})-(\d{1,15}|x)-(\d{1,15})$/;

export function writeMark({ epoch, seq, journalId, at }: LiveMark): string {
  return `${epoch}-${seq}-${journalId ?? 'x'}-${at}`;
}

/** null: it is none of ours. */
export function readMark(text: string): LiveMark | null {
  const [, epoch, seq, journalId, at] = PATTERN.exec(text) ?? [];
  if (epoch === undefined) return null;
  return { epoch, seq: Number(seq), journalId: journalId === 'x' ? null : Number(journalId), at: Number(at) };
}
