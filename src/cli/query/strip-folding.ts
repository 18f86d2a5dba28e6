/** Makes a long run-state strip, or many starts and stops, few enough to draw, and says what was drawn together. Pure. */
import type { PieceMs, StripPiece, StripState, TransientMark } from '../../api/charts-reader.js';

/** More pieces than this are folded. */
export const PIECES_MOST = 1_000;

const NONE: PieceMs = { running: 0, standing: 0, changing: 0, unknown: 0 };

const KIND_OF: Readonly<Record<Exclude<StripState, 'several'>, keyof PieceMs>> = {
  running: 'running',
  stopped: 'standing',
  fault: 'standing',
  starting: 'changing',
  stopping: 'changing',
  unknown: 'unknown',
};

function msOf({ from, to, state, ms }: StripPiece): PieceMs {
  if (state === 'several') return ms ?? NONE;
  return ms ?? { ...NONE, [KIND_OF[state]]: to - from };
}

function addMs(a: PieceMs, b: PieceMs): PieceMs {
  return {
    running: a.running + b.running,
    standing: a.standing + b.standing,
    changing: a.changing + b.changing,
    unknown: a.unknown + b.unknown,
  };
}

/** Neighbours of one state become one piece. */
export function joinAlike(pieces: readonly StripPiece[]): StripPiece[] {
  const joined: StripPiece[] = [];
  for (const piece of pieces) {
    const last = joined[joined.length - 1];
    if (last !== undefined && last.to === piece.from && isAlike(last, piece)) {
      const ms = last.ms === null || piece.ms === null ? null : addMs(last.ms, piece.ms);
      joined[joined.length - 1] = { ...last, to: piece.to, ms };
    } else joined.push(piece);
  }
  return joined;
}

function isAlike(a: StripPiece, b: StripPiece): boolean {
  return a.state !== 'several' && a.state === b.state && a.modulating === b.modulating;
}

/**
 * Pieces shorter than `leastMs` that follow one another become one of `several` states, of twice that length at most; longer
 * ones stay as they are. Pieces are in order and lie end to end.
 */
export function foldStrip(pieces: readonly StripPiece[], leastMs: number): StripPiece[] {
  if (pieces.length <= PIECES_MOST) return [...pieces];
  const folded: StripPiece[] = [];
  let open: StripPiece | null = null;
  for (const piece of pieces) {
    if (piece.to - piece.from >= leastMs) {
      if (open !== null) folded.push(open);
      open = null;
      folded.push(piece);
      continue;
    }
    open =
      open === null
        ? piece
        : {
            from: open.from,
            to: piece.to,
            state: 'several',
            modulating: null,
            ms: addMs(msOf(open), msOf(piece)),
          };
    if (open.to - open.from < leastMs) continue;
    folded.push(open);
    open = null;
  }
  if (open !== null) folded.push(open);
  return folded;
}

/** Starts and stops less than `leastMs` apart become one mark of that length at most; in order of time. */
export function foldTransients(marks: readonly TransientMark[], leastMs: number): TransientMark[] {
  if (marks.length <= PIECES_MOST) return [...marks];
  const folded: TransientMark[] = [];
  for (const mark of marks) {
    const last = folded[folded.length - 1];
    if (last !== undefined && mark.to - last.from <= leastMs) folded[folded.length - 1] = addMark(last, mark);
    else folded.push(mark);
  }
  return folded;
}

function addMark(a: TransientMark, b: TransientMark): TransientMark {
  const counts = new Map(a.counts.map((each) => [each.sensor, each]));
  for (const { sensor, pulses, ms } of b.counts) {
    const before = counts.get(sensor);
    counts.set(sensor, { sensor, pulses: pulses + (before?.pulses ?? 0), ms: ms + (before?.ms ?? 0) });
  }
  return {
    from: a.from,
    to: Math.max(a.to, b.to),
    kind: a.kind === b.kind ? a.kind : 'start-stop',
    transients: a.transients + b.transients,
    edges: a.edges + b.edges,
    counts: [...counts.values()],
  };
}
