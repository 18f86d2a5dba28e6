/**
 * The run-state strip of a motor over any span: from the drive's messages as far back as they are kept and few enough to be
 * read at once; before that from the classes of the counts, which say the same in coarser steps.
 */
import type { PieceMs, StripPiece, TimelineQuery } from '../../api/charts-reader.js';
import type { MotorPlan, GatePlan } from '../../core/plan.js';
import type { DriveRow, PresenceRow } from '../../core/rows.js';
import { buildTimeline, findStretch } from '../../core/run-state.js';
import { Class } from '../../core/words.js';
import { readBuckets, readNewest, readOldest, type Bucket } from '../../store/read-series.js';
import type { ReadStore } from '../../store/reader.js';
import { chooseSpan } from './series-span.js';
import { foldStrip, joinAlike, PIECES_MOST } from './strip-folding.js';

/** Guards are drawn as transients, not here. The silence from which a drive that reports on change is believed is the gate's. */
const NO_GUARDS: GatePlan = {
  ...{ beforeEdgeMs: 0, afterRunningMs: 0, afterStoppedMs: 0, capMs: 0, mergeMs: 0 },
  ...{ coupledMs: 0, settleMs: 5_000, settleWaitMs: 60_000, maxIntervalFactor: 1 },
};
const ANY_STEP = 1;
const CLASS_POINTS = 500;

export interface KnownDrives {
  /** from here on the messages are complete, ms; Infinity: none of the span is */
  readonly from: number;
  readonly drives: readonly DriveRow[];
  readonly presences: readonly PresenceRow[];
}

/** In order of time, end to end, without gaps where anything is known. */
export function drawStrip(reader: ReadStore, query: TimelineQuery, known: KnownDrives): StripPiece[] {
  const { from, to } = query;
  const cut = Math.min(Math.max(known.from, from), to);
  const early = cut > from ? stripOfClasses(reader, query, cut) : [];
  const late = cut < to ? stripOfDrives(query, known, cut) : [];
  return foldStrip(joinAlike([...early, ...late]), (to - from) / PIECES_MOST);
}

function stripOfDrives(query: TimelineQuery, known: KnownDrives, from: number): StripPiece[] {
  const { to, hasRunState, heartbeatMs } = query;
  const motor: MotorPlan = {
    ...{ key: query.motor, zone: '', dutyGroup: '', rampMs: 0, clockErrorMs: 1_000 },
    ...{ hasRunState, heartbeatMs },
  };
  const { stretches } = buildTimeline(motor, NO_GUARDS, ANY_STEP, known.drives, known.presences);
  const pieces: StripPiece[] = [];
  for (let i = findStretch(stretches, from); i < stretches.length && stretches[i]!.from < to; i++) {
    const { state, modulating, ...stretch } = stretches[i]!;
    const piece = { from: Math.max(stretch.from, from), to: Math.min(stretch.to, to) };
    if (piece.from < piece.to) pieces.push({ ...piece, state, modulating, ms: null });
  }
  return pieces;
}

/** Of each bucket the sensor that knows most of it. Time of which no sensor knows anything is no piece. */
function stripOfClasses(reader: ReadStore, query: TimelineQuery, to: number): StripPiece[] {
  const best = new Map<number, { bucket: Bucket; ms: number }>();
  let bucketMs = 0;
  for (const sensor of query.sensors) {
    const asked = { from: query.from, to, points: CLASS_POINTS };
    const span = chooseSpan(asked, readOldest(reader, sensor), readNewest(reader, sensor));
    bucketMs = Math.max(bucketMs, span.bucketMs);
    for (const bucket of readBuckets(reader, span.period, { ...span, sensor, hasRates: false })) {
      const ms = bucket.ms.reduce((sum, each) => sum + each, 0);
      if (ms > (best.get(bucket.start)?.ms ?? 0)) best.set(bucket.start, { bucket, ms });
    }
  }
  const pieces = [...best.values()]
    .sort((a, b) => a.bucket.start - b.bucket.start)
    .map(({ bucket }) => pieceOf(bucket, bucketMs));
  return pieces
    .map((piece) => ({ ...piece, from: Math.max(piece.from, query.from), to: Math.min(piece.to, to) }))
    .filter((piece) => piece.from < piece.to);
}

/** A state that fills all but a hundredth of a bucket is the bucket's. */
const PURE_SHARE = 0.99;

function pieceOf(bucket: Bucket, bucketMs: number): StripPiece {
  const ms: PieceMs = {
    running: bucket.ms[Class.running]!,
    standing: bucket.ms[Class.background]!,
    changing: bucket.ms[Class.transient]!,
    unknown:
      bucket.ms[Class.unattributed]! +
      bucket.ms[Class.common]! +
      bucket.ms[Class.check]! +
      bucket.ms[Class.rejected]!,
  };
  const all = ms.running + ms.standing + ms.changing + ms.unknown;
  const isPure = (share: number): boolean => share >= PURE_SHARE * all;
  const state = isPure(ms.running)
    ? 'running'
    : isPure(ms.standing)
      ? 'stopped'
      : isPure(ms.unknown)
        ? 'unknown'
        : 'several';
  return { from: bucket.start, to: bucket.start + bucketMs, state, modulating: null, ms };
}
