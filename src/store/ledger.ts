/**
 * The proof of the ledger, from the file alone. Each segment recorded its first and last count and its wraps on its own;
 * they are held against the increments between, as a whole and from each reading to the next.
 */
import { Class, Flag, LEDGER_CLASSES } from '../core/words.js';
import type { Segment } from '../core/rows.js';
import { firstSeqOf, partOf } from './chain-parts.js';
import type { ReadStore } from './reader.js';

/** Pulses that nobody can know: in no class, listed beside the ledger. */
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
  /** what does not add up, in words with its place, at most 100; empty when it balances */
  readonly faults: readonly string[];
}

export interface LedgerQuery {
  /** null: all */
  readonly sensor: string | null;
  /** narrow it to segments that lie in [from, to), at least in part; null: unbounded */
  readonly from: number | null;
  readonly to: number | null;
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

const ROW_COLUMNS = 'to_ms, seq, count, pulses, class, flags, duration';
const PAGE_ROWS = 5000;
const FAULTS_MAX = 100;
const SKIPPED = Flag.torn | Flag.held;
/** A counter this wide does not wrap within anybody's lifetime. */
const WRAPS_BELOW = 2 ** 40;

/** What the proof of one sensor gathers. */
interface Tally {
  counted: number;
  readonly pulses: number[];
  readonly ms: number[];
  /** of first readings whose predecessor retention has deleted: their increments cannot be proved any more */
  unproved: number;
  readonly faults: string[];
}

/**
 * In alphabetical order of the sensors. Each sensor is read as of one moment, so that it may be proved beside a writing
 * gateway; no more than a page of its readings is held in memory.
 */
export function proveLedger(reader: ReadStore, query: LedgerQuery): SensorLedger[] {
  return reader
    .sensorIds(query.sensor)
    .map(({ id, key }) => reader.db.transaction(() => proveSensor(reader, id, key, query))());
}

function proveSensor(reader: ReadStore, id: number, sensor: string, query: LedgerQuery): SensorLedger {
  const zeros = (): number[] => new Array<number>(9).fill(0);
  const tally: Tally = { counted: 0, pulses: zeros(), ms: zeros(), unproved: 0, faults: [] };
  const unknown: UnknownStretch[] = [];
  const boots = new Map(reader.chains(sensor).map((chain) => [chain.id, chain.boot]));
  const oldest = reader.value('SELECT min(to_ms) FROM increment WHERE sensor = ?', id) as number | null;
  for (const segment of reader.segments(sensor)) {
    if (segment.lastTo < (query.from ?? -Infinity) || segment.startTo >= (query.to ?? Infinity)) continue;
    if (segment.unknownReason !== '') unknown.push(toStretch(segment));
    const hasBoot = (boots.get(segment.chain) ?? null) !== null;
    const rows =
      hasBoot && segment.startSeq >= 0 ? rowsBySeq(reader, id, segment) : rowsByTime(reader, id, segment);
    proveSegment(segment, rows, oldest !== null && segment.startTo < oldest, tally);
  }
  const classified = LEDGER_CLASSES.reduce((sum, cls) => sum + tally.pulses[cls]!, 0);
  const pending = tally.pulses[Class.pending]!;
  if (query.from === null && query.to === null)
    findStrays(reader, id, sensor, classified + pending + tally.unproved, tally.faults);
  const { counted, pulses, ms, faults } = tally;
  return { sensor, balanced: faults.length === 0, counted, classified, pending, pulses, ms, unknown, faults };
}

function toStretch(segment: Segment): UnknownStretch {
  return {
    reason: segment.unknownReason,
    from: segment.unknownFrom,
    to: segment.unknownTo,
    least: segment.unknownLow,
    most: segment.unknownHigh,
  };
}

/** Increments that lie in no segment would be in the rollups, but in no balance. */
function findStrays(reader: ReadStore, id: number, sensor: string, proved: number, faults: string[]): void {
  const sum = reader.value('SELECT sum(pulses) FROM increment WHERE sensor = ?', id) as number | null;
  if ((sum ?? 0) !== proved && faults.length === 0)
    faults.push(`${sensor}: its increments hold ${sum ?? 0} pulses, those of its segments ${proved}`);
}

/** Adds what a segment counted and its increments to the tally. `isCut`: retention has deleted its beginning. */
function proveSegment(segment: Segment, rows: Iterable<RowCells>, isCut: boolean, tally: Tally): void {
  const say = (text: string): void => {
    const start = new Date(segment.startTo).toISOString();
    if (tally.faults.length < FAULTS_MAX)
      tally.faults.push(`${segment.sensor}, segment from ${start}: ${text}`);
  };
  const unwrap = segment.modulus < WRAPS_BELOW ? segment.modulus : 0;
  let first = isCut ? null : segment.firstCount;
  let before = first;
  let sum = 0;
  let wraps = 0;
  for (const [to, , count, pulses, cls, flags, duration] of rows) {
    if ((flags & SKIPPED) !== 0) continue;
    if (before === null) {
      first = count;
      before = count;
      tally.unproved += pulses;
      continue;
    }
    const wrapped = (flags & Flag.wrapped) !== 0 ? 1 : 0;
    if (pulses !== count - before + wrapped * unwrap) {
      const at = new Date(to).toISOString();
      say(`at ${at} the count went from ${before} to ${count}, but the increment holds ${pulses}`);
    }
    wraps += wrapped;
    before = count;
    sum += pulses;
    tally.pulses[cls]! += pulses;
    tally.ms[cls]! += Math.max(0, duration);
  }
  if (before !== null && before !== segment.lastCount)
    say(`its last count is ${segment.lastCount}, but the last reading stored has ${before}`);
  const counted = segment.lastCount - (first ?? segment.lastCount) + (isCut ? wraps : segment.wraps) * unwrap;
  if (counted !== sum) say(`it counted ${counted}, but its increments hold ${sum}`);
  tally.counted += counted;
}

/** A segment's rows in the order of `seq`, part by part. */
function* rowsBySeq(reader: ReadStore, id: number, segment: Segment): Generator<RowCells> {
  const parts = reader.all(
    'SELECT part, least_to, most_to FROM chain_part WHERE chain = ? AND part BETWEEN ? AND ? ORDER BY part',
    segment.chain,
    partOf(segment.startSeq),
    partOf(segment.lastSeq),
  ) as [number, number, number][];
  for (const [part, leastTo, mostTo] of parts) {
    yield* reader.all(
      `SELECT ${ROW_COLUMNS} FROM increment
       WHERE sensor = ? AND to_ms BETWEEN ? AND ? AND chain = ? AND seq BETWEEN ? AND ? ORDER BY seq`,
      id,
      leastTo,
      mostTo,
      segment.chain,
      Math.max(segment.startSeq, firstSeqOf(part)),
      Math.min(segment.lastSeq, firstSeqOf(part + 1) - 1),
    ) as RowCells[];
  }
}

/** A segment's rows in the order of (to, seq), in pages. */
function* rowsByTime(reader: ReadStore, id: number, segment: Segment): Generator<RowCells> {
  let place: [number, number] = [segment.startTo, segment.startSeq];
  for (;;) {
    const rows = reader.all(
      `SELECT ${ROW_COLUMNS} FROM increment
       WHERE sensor = ? AND chain = ? AND (to_ms, seq) >= (?, ?) AND (to_ms, seq) <= (?, ?) ORDER BY to_ms, seq LIMIT ${PAGE_ROWS}`,
      id,
      segment.chain,
      ...place,
      segment.lastTo,
      segment.lastSeq,
    ) as RowCells[];
    yield* rows;
    const last = rows[rows.length - 1];
    if (last === undefined || rows.length < PAGE_ROWS) return;
    place = [last[0], last[1] + 1];
  }
}
