/**
 * The odd one out: each motor's log rate against the median of its sisters, measured by a spread that the whole plant supplies, because a
 * group of six knows its own too badly.
 */
import { median } from './median.js';
import { type LogRate } from './log-rate.js';
import { studentUpperTail } from './student.js';

export interface PeerRate extends LogRate {
  readonly motor: string;
}

export interface PeerScore {
  motor: string;
  /** ratio to the median of the other motors of its group */
  ratio: number;
  /** deviation over its standard deviation, spread and chance together */
  score: number;
  /** that a healthy motor deviates as far upwards, and as far either way */
  pAbove: number;
  pTwoSided: number;
}

export interface GroupScores {
  /** in the order given; empty: fewer than 3 motors, nothing can be told */
  motors: PeerScore[];
  /** half of the group or more stand apart from their sisters: which half is odd cannot be told */
  isDivided: boolean;
}

export interface PlantScores {
  groups: GroupScores[];
  /** standard deviation of healthy log rates from motor to motor, chance taken out; 0: chance explains all */
  spread: number;
  /** degrees of freedom of that spread */
  freedom: number;
}

/** Φ⁻¹(¾): half of all deviations lie within as many standard deviations. */
const QUARTILE = 0.6744897501960817;
/** What a median keeps of the information of a list on its spread. Source: P. J. Rousseeuw and C. Croux, JASA 88 (1993), MAD: 37 %. */
const MAD_EFFICIENCY = 0.37;
/** Two-sided p below which a motor counts as standing apart when a group is asked whether it is divided: our choice. */
const APART = 0.01;

/** Variance of the median of n standard normal values, n = 1 … 10. Source: order statistics, computed here by integration. */
const MEDIAN_VARIANCE = [1, 0.5, 0.4487, 0.2982, 0.2868, 0.2147, 0.2104, 0.1682, 0.1661, 0.1383] as const;

/** The same for any n ≥ 1; above 10 π / (2 n + π − 2), within 1 %. */
export function medianVariance(n: number): number {
  return MEDIAN_VARIANCE[n - 1] ?? Math.PI / (2 * n + Math.PI - 2);
}

interface Deviation {
  value: number;
  /** factor of the spread², and sampling variance, of this deviation */
  factor: number;
  sampling: number;
}

/** From the median of the others, so that a motor does not pull its own yardstick. */
function deviate(group: readonly PeerRate[]): Deviation[] {
  return group.map((own, i) => {
    const others = group.filter((_, j) => j !== i);
    const share = medianVariance(others.length);
    const mean = others.reduce((sum, other) => sum + other.variance, 0) / others.length;
    return {
      value: own.value - median(others.map(({ value }) => value))!,
      factor: 1 + share,
      sampling: own.variance + share * mean,
    };
  });
}

/** The spread² at which half of the deviations lie within the quartile of their own standard deviation; 0 where chance is enough. */
function poolSpread(all: readonly Deviation[]): number {
  const middle = (spread2: number): number =>
    median(all.map((d) => Math.abs(d.value) / Math.sqrt(spread2 * d.factor + d.sampling)))!;
  if (all.length === 0 || middle(0) <= QUARTILE) return 0;
  let low = 0;
  let high = 1e-4;
  while (middle(high) > QUARTILE && high < 1e6) high *= 2;
  for (let i = 0; i < 100; i++) {
    const half = (low + high) / 2;
    if (middle(half) > QUARTILE) low = half;
    else high = half;
  }
  return high;
}

/**
 * Scores of all motors of all duty groups. Groups of 1 or 2 get none. `spreadLeast`: the healthy motor-to-motor spread is never taken below
 * it (standard deviation of ln rate; 0: no floor), for a plant whose motors happen to agree knows little.
 * Adjust the p-values over the plant before calling anything.
 * Source: median and MAD as B. Iglewicz and D. C. Hoaglin, How to Detect and Handle Outliers (1993); sampling variance apart from the
 * spread as in random-effects meta-analysis; small groups by the variance of the median and Student's t with the degrees of freedom that
 * the pooled spread has (Satterthwaite).
 */
export function scorePeers(groups: readonly (readonly PeerRate[])[], spreadLeast = 0): PlantScores {
  const deviations = groups.map((group) => (group.length < 3 ? [] : deviate(group)));
  const all = deviations.flat();
  const judged = deviations.filter((group) => group.length > 0).length;
  const spread2 = Math.max(spreadLeast ** 2, poolSpread(all));
  const freedom = Math.max(3, MAD_EFFICIENCY * (all.length - judged));
  const scores = groups.map((group, g): GroupScores => {
    const motors = deviations[g]!.map((d, i): PeerScore => {
      const own = spread2 * d.factor;
      const score = d.value / Math.sqrt(own + d.sampling);
      const ownFreedom = own > 0 ? freedom * ((own + d.sampling) / own) ** 2 : Infinity;
      return {
        motor: group[i]!.motor,
        ratio: Math.exp(d.value),
        score,
        pAbove: studentUpperTail(score, ownFreedom),
        pTwoSided: Math.min(1, 2 * studentUpperTail(Math.abs(score), ownFreedom)),
      };
    });
    const apart = motors.filter(({ pTwoSided }) => pTwoSided < APART).length;
    return { motors, isDivided: motors.length > 0 && 2 * apart >= motors.length };
  });
  return { groups: scores, spread: Math.sqrt(spread2), freedom };
}
