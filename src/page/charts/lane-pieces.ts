/**
 * Pieces of a lane under the time chart, as few as there are pixels: what is narrower than one is drawn together with its
 * neighbours. Pure.
 */

export interface LanePiece<K> {
  readonly from: number;
  readonly to: number;
  readonly kind: K;
}

export interface LaneRect<K> {
  readonly x: number;
  readonly width: number;
  readonly kind: K;
}

/**
 * Rectangles from left to right, in px. A piece narrower than `leastPx` is drawn that wide, so that a start of half a minute is
 * seen in a year; of one kind, rectangles that touch become one. `pieces` in order of time.
 */
export function placePieces<K>(
  pieces: readonly LanePiece<K>[],
  xOf: (at: number) => number,
  widthPx: number,
  leastPx: number,
): LaneRect<K>[] {
  const rects: { x: number; width: number; kind: K }[] = [];
  for (const { from, to, kind } of pieces) {
    const left = Math.max(0, xOf(from));
    const right = Math.min(widthPx, Math.max(xOf(to), xOf(from) + leastPx));
    if (right <= 0 || left >= widthPx || right <= left) continue;
    const last = rects[rects.length - 1];
    if (last !== undefined && last.kind === kind && left <= last.x + last.width + 0.5)
      last.width = Math.max(last.width, right - last.x);
    else rects.push({ x: left, width: right - left, kind });
  }
  return rects;
}

/** The piece at a time; of several the last that began. `pieces` in order of `from`. Null: none. */
export function pieceAt<P extends { readonly from: number; readonly to: number }>(
  pieces: readonly P[],
  at: number,
  slackMs = 0,
): P | null {
  let found: P | null = null;
  for (const piece of pieces) {
    if (piece.from - slackMs > at) break;
    if (piece.to + slackMs > at) found = piece;
  }
  return found;
}
