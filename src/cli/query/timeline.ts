/** What is drawn under the rate of a motor: run state, starts and stops, speed and load, and marks in time. */
import type {
  ConditionPoint,
  Mark,
  Reach,
  Timeline,
  TimelineQuery,
  TransientMark,
} from '../../api/charts-reader.js';
import type { DriveRow, Transient } from '../../core/rows.js';
import { fromCursor, toCursor } from '../../store/page.js';
import { readActions, readFindings } from '../../store/read-maintenance.js';
import {
  hasMoreDrives,
  readAlarmEntries,
  readDrives,
  readOldestDrive,
  readSpanTransients,
  sampleDrives,
} from '../../store/read-timeline.js';
import type { ReadStore } from '../../store/reader.js';
import { drawStrip, type KnownDrives } from './run-strip.js';
import { foldTransients, PIECES_MOST } from './strip-folding.js';

/** More messages than this are not read one by one: a day of one every three seconds. */
const DRIVES_MOST = 30_000;
const TRANSIENTS_MOST = 40_000;
/** Messages looked up in each bucket of speed and load where there are too many to read all. */
const SAMPLES_A_BUCKET = 8;

export function answerTimeline(reader: ReadStore, query: TimelineQuery): Timeline {
  const { motor, from, to } = query;
  const known = readKnownDrives(reader, query);
  const transients = readSpanTransients(reader, motor, query, TRANSIENTS_MOST).map(toMark);
  const { marks, next } = readMarks(reader, query);
  return {
    strip: drawStrip(reader, query, known),
    exactFrom: known.from,
    transients: foldTransients(transients, (to - from) / PIECES_MOST),
    condition: drawCondition(reader, query, known),
    marks,
    next,
  };
}

function toMark({ motor: _motor, ...transient }: Transient): TransientMark {
  return { ...transient, transients: 1 };
}

/** The newest part of the span whose messages are kept and few enough. */
function readKnownDrives(reader: ReadStore, query: TimelineQuery): KnownDrives {
  const { motor, from, to, hasRunState } = query;
  if (!hasRunState) return { from, drives: [], presences: [] };
  const oldest = readOldestDrive(reader, motor);
  const none = { from: Infinity, drives: [], presences: [] };
  if (oldest === null || oldest >= to) return none;
  const span = { from: Math.max(from, oldest), to };
  if (hasMoreDrives(reader, motor, span, DRIVES_MOST)) return none;
  return { from: span.from, ...readDrives(reader, motor, span) };
}

interface Held {
  readonly from: number;
  readonly to: number;
  readonly row: DriveRow;
}

function drawCondition(
  reader: ReadStore,
  { motor, from, to, points, heartbeatMs }: TimelineQuery,
  known: KnownDrives,
): Timeline['condition'] {
  const bucketMs = Math.max(1_000, Math.ceil((to - from) / points));
  const isSampled = known.from === Infinity;
  const rows = isSampled ? sampleDrives(reader, motor, sampleTimes(from, to, bucketMs)) : known.drives;
  const buckets = new Map<number, { speed: Sum; load: Sum }>();
  // as long as the run state is known; where only some were looked up, no longer than the distance of two looks
  const heldMs = Math.min(isSampled ? bucketMs : Infinity, heartbeatMs === null ? Infinity : 3 * heartbeatMs);
  for (const held of listHeld(rows, from, to, heldMs)) {
    for (let start = Math.floor((held.from - from) / bucketMs); from + start * bucketMs < held.to; start++) {
      const begin = from + start * bucketMs;
      const ms = Math.min(held.to, begin + bucketMs) - Math.max(held.from, begin);
      const sums = buckets.get(begin) ?? { speed: newSum(), load: newSum() };
      buckets.set(begin, sums);
      addValue(sums.speed, held.row.speedRpm, ms);
      addValue(sums.load, held.row.loadPct, ms);
    }
  }
  const found: ConditionPoint[] = [...buckets].map(([start, { speed, load }]) => ({
    ...{ start, end: Math.min(start + bucketMs, to) },
    ...{ speedRpm: reachOf(speed), loadPct: reachOf(load) },
  }));
  return { bucketMs, isSampled, points: found.sort((a, b) => a.start - b.start) };
}

/** Each message holds until the next one, or for `most`. */
function listHeld(rows: readonly DriveRow[], from: number, to: number, most: number): Held[] {
  return rows.flatMap((row, i) => {
    const begin = Math.max(from, row.at);
    const end = Math.min(to, rows[i + 1]?.at ?? to, row.at + most);
    return begin < end ? [{ from: begin, to: end, row }] : [];
  });
}

function sampleTimes(from: number, to: number, bucketMs: number): number[] {
  const stepMs = bucketMs / SAMPLES_A_BUCKET;
  const times: number[] = [];
  for (let i = 1; from + i * stepMs <= to; i++) times.push(Math.floor(from + i * stepMs) - 1);
  return times;
}

interface Sum {
  min: number;
  max: number;
  sum: number;
  ms: number;
}

function newSum(): Sum {
  return { min: Infinity, max: -Infinity, sum: 0, ms: 0 };
}

function addValue(sum: Sum, value: number | null, ms: number): void {
  if (value === null) return;
  sum.min = Math.min(sum.min, value);
  sum.max = Math.max(sum.max, value);
  sum.sum += value * ms;
  sum.ms += ms;
}

function reachOf({ min, max, sum, ms }: Sum): Reach | null {
  return ms === 0 ? null : { min, mean: sum / ms, max };
}

const ORDER = { action: 0, finding: 1, alarm: 2 } as const;

/** Actions and findings that stand, and what alarms did, by time; each list is read from the place behind the last mark. */
function readMarks(reader: ReadStore, query: TimelineQuery): { marks: Mark[]; next: string | null } {
  const { motor, from, to, limit } = query;
  const [at, order, id] = fromCursor<[number, number, number]>(query.cursor, [from, -1, 0]);
  /** ids of the rows of a kind at the very time of the last mark that were told already */
  const after = (kind: Mark['kind']): number =>
    ORDER[kind] < order ? Infinity : ORDER[kind] === order ? id : 0;
  const entries = { motor, from: Math.max(from, at), to, limit: limit + 1, cursor: null };
  const behind = (kind: 'action' | 'finding') => (row: { at: number; id: number }) =>
    row.at > at || row.id > after(kind);
  const list: Mark[] = [
    ...listEntries(readActions, entries, behind('action'), reader).map((row) => ({
      kind: 'action' as const,
      row,
    })),
    ...listEntries(readFindings, entries, behind('finding'), reader).map((row) => ({
      kind: 'finding' as const,
      row,
    })),
    ...readAlarmEntries(reader, motor, {
      ...{ from, to, limit: limit + 1 },
      after: [at, after('alarm') === Infinity ? Number.MAX_SAFE_INTEGER : after('alarm')],
    }).map((row) => ({ kind: 'alarm' as const, row })),
  ];
  list.sort((a, b) => a.row.at - b.row.at || ORDER[a.kind] - ORDER[b.kind] || a.row.id - b.row.id);
  const marks = list.slice(0, limit);
  const last = marks[marks.length - 1];
  const next =
    last === undefined || list.length <= limit ? null : toCursor(last.row.at, ORDER[last.kind], last.row.id);
  return { marks, next };
}

const PAGES_MOST = 20;

/** Up to `limit` entries that stand and lie behind the place. Withdrawn ones are left out, so it may take a few pages. */
function listEntries<T extends { readonly at: number; readonly id: number; readonly withdrawn: unknown }>(
  read: (
    reader: ReadStore,
    query: { motor: string; from: number; to: number; limit: number; cursor: string | null },
  ) => { readonly items: readonly T[]; readonly next: string | null },
  query: { motor: string; from: number; to: number; limit: number; cursor: string | null },
  isBehind: (row: T) => boolean,
  reader: ReadStore,
): T[] {
  const found: T[] = [];
  let cursor: string | null = null;
  for (let page = 0; page < PAGES_MOST; page++) {
    const { items, next } = read(reader, { ...query, cursor });
    found.push(...items.filter((row) => row.withdrawn === null && isBehind(row)));
    cursor = next;
    if (cursor === null || found.length >= query.limit) break;
  }
  return found.slice(0, query.limit);
}
