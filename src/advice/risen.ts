/**
 * Which sensors of a whole list have risen over their own baselines. With a hundred sensors on the list some lower limits lie above 1 by
 * chance alone, so what counts as risen is bounded over the list, as the odd ones out are.
 * Source: Y. Benjamini and Y. Hochberg, JRSS B 57 (1995) 289-300. That p follows from the limits as if the log of the ratio were
 * normal is our choice: the list needs an order of sureness, and the limits are what it has.
 */
import { adjustP } from '../stats/false-discovery.js';
import { normalUpperTail } from '../stats/normal.js';
import type { CandidateSensor } from './candidate-sensor.js';
import type { RatioEvidence } from './evidence.js';

/** Share of false ones among those called risen. */
const DISCOVERIES = 0.05;
/** The limits are those of 95 %. */
const LIMIT_Z = 1.959964;

/** One-sided: how easily chance alone gives so high a ratio. */
function chanceOf({ ratio, lower }: RatioEvidence): number {
  if (!(lower > 0) || !(ratio > lower)) return 1;
  if (!Number.isFinite(ratio)) return 0;
  return normalUpperTail((LIMIT_Z * Math.log(ratio)) / Math.log(ratio / lower));
}

/** Sensors whose lower limit lies above 1 and that are still called when false ones are bounded over all of `sensors`. */
export function findRisen(sensors: readonly CandidateSensor[]): ReadonlySet<CandidateSensor> {
  const judged = sensors.flatMap((sensor) =>
    sensor.baseline === null ? [] : [{ sensor, baseline: sensor.baseline }],
  );
  const adjusted = adjustP(judged.map(({ baseline }) => chanceOf(baseline)));
  const risen = judged.filter(({ baseline }, i) => baseline.lower > 1 && adjusted[i]! <= DISCOVERIES);
  return new Set(risen.map(({ sensor }) => sensor));
}
