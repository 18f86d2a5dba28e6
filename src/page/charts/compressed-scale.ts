/**
 * Marks of a compressed axis: linear about zero, logarithmic far from it, by the inverse hyperbolic sine. Zero has its place on it,
 * which a logarithm has not. Pure.
 */
import { listSteps } from './small-series.js';

/** Marks closer than that cannot be read apart, px. */
const GAP_PX = 24;
/** Up to here the axis is as good as linear: sinh⁻¹ 2 is 1.44. */
const LINEAR_MOST = 2;

/** From zero up, at most `most`. Whole powers of ten first, then 5 and 2 of them where there is room. `heightPx`: of the axis. */
export function listCompressedMarks(most: number, heightPx: number): number[] {
  if (!(most > LINEAR_MOST)) return listSteps(most).filter((step) => step <= most * (1 + 1e-9));
  const placeOf = (value: number): number => (Math.asinh(value) / Math.asinh(most)) * heightPx;
  const powers = Array.from({ length: Math.floor(Math.log10(most) + 1e-9) + 1 }, (_, i) => 10 ** i);
  const wished = [0, ...[1, 5, 2].flatMap((factor) => powers.map((power) => factor * power))];
  const marks: number[] = [];
  for (const value of wished) {
    const isFree = marks.every((other) => Math.abs(placeOf(other) - placeOf(value)) >= GAP_PX);
    if (value <= most && isFree) marks.push(value);
  }
  return marks.sort((a, b) => a - b);
}
