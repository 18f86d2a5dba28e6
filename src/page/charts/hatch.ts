/** Fills that differ without colour. Each is a small tile that repeats. */
import type { Ink } from './ink.js';

export type Hatch = 'solid' | 'empty' | 'light' | 'rising' | 'falling' | 'cross' | 'dots' | 'upright';

const TILE_PX = 6;

/** Strokes of a tile, as pairs of points. */
export const HATCH_LINES: Readonly<
  Record<Exclude<Hatch, 'solid' | 'empty' | 'light' | 'dots'>, readonly number[][]>
> = {
  rising: [[0, TILE_PX, TILE_PX, 0]],
  falling: [[0, 0, TILE_PX, TILE_PX]],
  cross: [
    [0, TILE_PX, TILE_PX, 0],
    [0, 0, TILE_PX, TILE_PX],
  ],
  upright: [[TILE_PX / 2, 0, TILE_PX / 2, TILE_PX]],
};

const tiles = new Map<string, CanvasPattern>();

export function hatch(ctx: CanvasRenderingContext2D, kind: Hatch, ink: Ink): string | CanvasPattern {
  if (kind === 'solid') return ink.trace;
  if (kind === 'empty') return ink.raised;
  if (kind === 'light') return ink.soft;
  const key = `${kind} ${ink.trace} ${ink.raised}`;
  let found = tiles.get(key);
  if (found === undefined) {
    found = ctx.createPattern(drawTile(kind, ink), 'repeat')!;
    tiles.set(key, found);
  }
  return found;
}

function drawTile(kind: Exclude<Hatch, 'solid' | 'empty' | 'light'>, ink: Ink): HTMLCanvasElement {
  const tile = document.createElement('canvas');
  tile.width = tile.height = TILE_PX;
  const ctx = tile.getContext('2d')!;
  ctx.fillStyle = ink.raised;
  ctx.fillRect(0, 0, TILE_PX, TILE_PX);
  ctx.fillStyle = ctx.strokeStyle = ink.ink;
  if (kind === 'dots') {
    ctx.fillRect(1, 1, 2, 2);
    ctx.fillRect(4, 4, 2, 2);
    return tile;
  }
  ctx.lineWidth = 1.2;
  for (const [x0, y0, x1, y1] of HATCH_LINES[kind] as [number, number, number, number][]) {
    ctx.beginPath();
    ctx.moveTo(x0, y0);
    ctx.lineTo(x1, y1);
    ctx.stroke();
  }
  return tile;
}

/** A sample of a fill for a legend. Draws itself into a canvas of 22 by 14 px. */
export function drawSample(canvas: HTMLCanvasElement, kind: Hatch, ink: Ink): void {
  const ctx = canvas.getContext('2d');
  if (ctx === null) return;
  ctx.fillStyle = hatch(ctx, kind, ink);
  ctx.fillRect(0, 0, canvas.width, canvas.height);
  ctx.strokeStyle = ink.quiet;
  ctx.strokeRect(0.5, 0.5, canvas.width - 1, canvas.height - 1);
}
