/**
 * The proof of the ledger, from the store alone. Each segment recorded its first and last count and its wraps on its own;
 * they are held against the increments between, as a whole and from each reading to the next.
 */
import { LEDGER_CLASSES, Class, Flag } from '../core/words.js';
import type { ReadStore } from './reader.js';

export interface UnknownStretch {
  readonly reason: string;
  readonly from: number;
  readonly to: number;
  readonly least: number;
  /** null: no bound is known */
  readonly most: number | null;
}

export interface SensorLedger {
  readonly sensor: string;
  readonly balanced: boolean;
  /** last − first, unwrapped, over the segments */
  readonly counted: number;
  /** sum of the increments in the seven classes */
  readonly classified: number;
  /** sum of those not classified yet */
  readonly pending: number;
  /** by class number */
  readonly pulses: readonly number[];
  readonly ms: readonly number[];
  readonly unknown: readonly UnknownStretch[];
  /** what does not add up, in words with its place; empty when it balances */
  readonly faults: readonly string[];
}

interface SegmentRow {
  chain: number;
  startTo: number;
  startSeq: number;
  firstCount: number;
  lastTo: number;
  lastSeq: number;
  lastCount: number;
  wraps: number;
  modulus: number;
  bySeq: boolean;
}

type RowCells = [
  to: number,
  seq: number,
  count: number,
  pulses: number,
  cls: number,
  flags: number,
  duration: number,
];

const PAGE_ROWS = 5000;
const FAULTS_MAX = 100;
const SKIPPED = Flag.torn | Flag.held;

/** Proves one sensor or all. `from`, `to` (ms) narrow it to segments that lie in the range, at least in part. */
export function proveLedger(
  reader: ReadStore,
  query: { sensor: string | null; from: number | null; to: number | null },
): SensorLedger[] {
  return reader
    .sensorIds(query.sensor)
    .map(({ id, key }) => proveSensor(reader, id, key, query.from, query.to));
}

function proveSensor(
  reader: ReadStore,
  id: number,
  sensor: string,
  from: number | null,
  to: number | null,
): SensorLedger {
  const pulses = new Array<number>(9).fill(0);
  const ms = new Array<number>(9).fill(0);
  const unknown: UnknownStretch[] = [];
  const faults: string[] = [];
  let counted = 0;
  const rows = reader.all(
    `SELECT s.chain, s.start_to, s.start_seq, s.first_count, s.last_to, s.last_seq, s.last_count, s.wraps, s.modulus, c.boot,
     s.unknown_reason, s.unknown_from, s.unknown_to, s.unknown_low, s.unknown_high
     FROM segment s JOIN chain c ON c.id = s.chain WHERE s.sensor = ? AND s.last_to >= ? AND s.start_to < ? ORDER BY s.start_to, s.chain, s.start_seq`,
    id,
    from ?? Number.MIN_SAFE_INTEGER,
    to ?? Number.MAX_SAFE_INTEGER,
  );
  const oldest = reader.all('SELECT min(to_ms) FROM increment WHERE sensor = ?', id)[0]![0] as number | null;
  for (const c of rows) {
    if (c[10] !== '') {
      unknown.push({
        reason: c[10] as string,
        from: c[11] as number,
        to: c[12] as number,
        least: c[13] as number,
        most: c[14] as number | null,
      });
    }
    const [chain, startTo, startSeq, firstCount, lastTo, lastSeq, lastCount, wraps, modulus] = c as number[];
    const segment = {
      chain: chain!,
      startTo: startTo!,
      startSeq: startSeq!,
      firstCount: firstCount!,
      lastTo: lastTo!,
      lastSeq: lastSeq!,
      lastCount: lastCount!,
      wraps: wraps!,
      modulus: modulus!,
      bySeq: c[9] !== null && startSeq! >= 0,
    };
    counted += proveSegment(reader, id, sensor, segment, oldest ?? startTo!, { pulses, ms, faults });
  }
  const classified = LEDGER_CLASSES.reduce((sum, cls) => sum + pulses[cls]!, 0);
  const pending = pulses[Class.pending]!;
  if (counted !== classified + pending && faults.length === 0)
    faults.push(`${sensor}: counted ${counted}, but the classes hold ${classified} and ${pending} pending`);
  return { sensor, balanced: faults.length === 0, counted, classified, pending, pulses, ms, unknown, faults };
}

/** Adds a segment's increments to the sums and returns what it counted; what does not add up goes to the faults. */
function proveSegment(
  reader: ReadStore,
  id: number,
  sensor: string,
  segment: SegmentRow,
  oldest: number,
  into: { pulses: number[]; ms: number[]; faults: string[] },
): number {
  const say = (text: string): void => {
    if (into.faults.length < FAULTS_MAX)
      into.faults.push(`${sensor}, segment from ${new Date(segment.startTo).toISOString()}: ${text}`);
  };
  const unwrap = segment.modulus > 2 ** 40 ? 0 : segment.modulus;
  const cut = segment.startTo < oldest;
  let before = cut ? null : segment.firstCount;
  let first = cut ? null : segment.firstCount;
  let sum = 0;
  let wraps = 0;
  for (const [to, , count, pulses, cls, flags, duration] of rowsOf(reader, id, segment)) {
    if ((flags & SKIPPED) !== 0) continue;
    const wrapped = (flags & Flag.wrapped) !== 0 ? unwrap : 0;
    if (before === null) {
      first = count;
      before = count;
      continue;
    }
    if ((flags & Flag.wrapped) !== 0) wraps += 1;
    if (pulses !== count - before + wrapped) {
      say(
        `at ${new Date(to).toISOString()} the count went from ${before} to ${count}, but the increment holds ${pulses}`,
      );
    }
    before = count;
    sum += pulses;
    into.pulses[cls]! += pulses;
    into.ms[cls]! += Math.max(0, duration);
  }
  if (before !== null && before !== segment.lastCount)
    say(`its last count is ${segment.lastCount}, but the last reading stored has ${before}`);
  const counted = segment.lastCount - (first ?? segment.lastCount) + (cut ? wraps : segment.wraps) * unwrap;
  if (counted !== sum) say(`it counted ${counted}, but its increments hold ${sum}`);
  return counted;
}

/** A segment's rows in chain order, in pages. */
function* rowsOf(reader: ReadStore, id: number, segment: SegmentRow): Generator<RowCells> {
  const columns = 'to_ms, seq, count, pulses, class, flags, duration';
  if (segment.bySeq) {
    const rows = reader.all(
      `SELECT ${columns} FROM increment WHERE sensor = ? AND chain = ? AND seq >= ? AND seq <= ? ORDER BY seq`,
      id,
      segment.chain,
      segment.startSeq,
      segment.lastSeq,
    ) as RowCells[];
    yield* rows;
    return;
  }
  let place: [number, number] = [segment.startTo, segment.startSeq];
  let after = '>=';
  for (;;) {
    const rows = reader.all(
      `SELECT ${columns} FROM increment WHERE sensor = ? AND (to_ms, seq) ${after} (?, ?) AND (to_ms, seq) <= (?, ?) AND chain = ? ORDER BY to_ms, seq LIMIT ${PAGE_ROWS}`,
      id,
      ...place,
      segment.lastTo,
      segment.lastSeq,
      segment.chain,
    ) as RowCells[];
    yield* rows;
    if (rows.length < PAGE_ROWS) return;
    place = [rows[rows.length - 1]![0], rows[rows.length - 1]![1]];
    after = '>';
  }
}
