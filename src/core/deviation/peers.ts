/**
 * The odd one out: each motor's rate against its duty group, like bins with like bins, on the log scale. The scale of
 * healthy differences is pooled over all groups of the plant, because a group of six alone knows its own spread too badly.
 * Source: median and MAD (F. R. Hampel, JASA 69 (1974) 383-393); ½φ added to counts so that zero has a logarithm (our choice,
 * after F. J. Anscombe, Biometrika 35 (1948) 246-254); false discoveries after Y. Benjamini and Y. Hochberg, JRSS B 57
 * (1995) 289-300; p and ratio that count as odd: DESIGN section 6.
 */
import { studentUpperTail } from '../../stats/student.js';

/** What one sensor did in one bin. */
export interface PeerCell {
  bin: string;
  pulses: number;
  ms: number;
  /** φ ≥ 1 */
  dispersion: number;
}

export interface Peer {
  key: string;
  cells: readonly PeerCell[];
}

export interface PeerScore {
  key: string;
  /** rate over that of the group under like conditions */
  ratio: number;
  lower: number;
  upper: number;
  /** one-sided, of a ratio so high among healthy ones */
  p: number;
  /** p ≤ 0.0005, ratio > 2, and false discoveries over the plant bounded */
  odd: boolean;
  /** running exposure in shared bins, ms */
  sharedMs: number;
  pulses: number;
  /** pulses that the group's rates predict */
  expected: number;
  dispersion: number;
  /** the group falls into two halves: nobody can say which is odd */
  torn: boolean;
  /** motors compared */
  motors: number;
}

export const PEERS = {
  /** motors that a group needs: with two, neither is odd */
  motorsMin: 4,
  /** shared exposure, ms */
  sharedMsMin: 4 * 3_600_000,
  p: 0.0005,
  ratio: 2,
  /** share of false ones among those called odd */
  discoveries: 0.05,
  /** what is assumed of healthy motors of one group before their own spread is known (1 σ of the log rate), and its weight */
  spread: 0.2,
  spreadFreedom: 8,
} as const;

const LIMIT_Z = 1.959964;

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}

interface Placed {
  peer: Peer;
  x: number;
  variance: number;
  pulses: number;
  expected: number;
  ms: number;
  dispersion: number;
}

/** Median rate of each bin over the motors that visited it for long enough, pulses per ms; bins with too few are left out. */
function groupRates(peers: readonly Peer[]): Map<string, number> {
  const rates = new Map<string, number[]>();
  for (const { cells } of peers) {
    for (const { bin, pulses, ms, dispersion } of cells) {
      if (ms < 600_000) continue;
      const list = rates.get(bin) ?? [];
      list.push((pulses + 0.5 * dispersion) / ms);
      rates.set(bin, list);
    }
  }
  const found = new Map<string, number>();
  for (const [bin, list] of rates) if (list.length >= PEERS.motorsMin) found.set(bin, median(list));
  return found;
}

/** Log of each motor's counts over what the group's rates predict, centred on the group. */
function placeGroup(peers: readonly Peer[]): Placed[] {
  const rates = groupRates(peers);
  const placed: Placed[] = [];
  for (const peer of peers) {
    let pulses = 0;
    let expected = 0;
    let ms = 0;
    let weighted = 0;
    for (const cell of peer.cells) {
      const rate = rates.get(cell.bin);
      if (rate === undefined) continue;
      pulses += cell.pulses;
      expected += rate * cell.ms;
      ms += cell.ms;
      weighted += cell.dispersion * rate * cell.ms;
    }
    if (ms < PEERS.sharedMsMin || !(expected > 0)) continue;
    const dispersion = Math.max(1, weighted / expected);
    const half = 0.5 * dispersion;
    placed.push({
      peer,
      x: Math.log((pulses + half) / (expected + half)),
      variance: dispersion / (pulses + half),
      pulses,
      expected,
      ms,
      dispersion,
    });
  }
  if (placed.length < PEERS.motorsMin) return [];
  const centre = median(placed.map(({ x }) => x));
  for (const one of placed) one.x -= centre;
  return placed;
}

/**
 * Scale of healthy differences over all groups, with its degrees of freedom: 1.4826 MAD of the centred logs, their sampling variance
 * taken off. A median taken from n motors eats about one degree of freedom, so deviations are widened by √(n/(n−1)). A small
 * plant borrows from what is assumed of healthy motors, or its t would be so wide that nothing could ever be odd.
 */
function pooledScale(groups: readonly (readonly Placed[])[]): { spread: number; freedom: number } {
  const deviations: number[] = [];
  const variances: number[] = [];
  let freedom = 0;
  for (const group of groups) {
    const widen = Math.sqrt(group.length / (group.length - 1));
    for (const { x, variance } of group) {
      deviations.push(Math.abs(x) * widen);
      variances.push(variance);
    }
    freedom += group.length - 1;
  }
  if (deviations.length === 0) return { spread: PEERS.spread, freedom: PEERS.spreadFreedom };
  const mad = 1.4826 * median(deviations);
  const own = Math.max(0, mad * mad - median(variances));
  // the MAD is worth about 0.37 of a standard deviation's degrees of freedom
  const weight = 0.37 * freedom;
  const total = weight + PEERS.spreadFreedom;
  return {
    spread: Math.sqrt((weight * own + PEERS.spreadFreedom * PEERS.spread ** 2) / total),
    freedom: total,
  };
}

/** Two halves that lie more than a factor of 2 apart. */
function isTorn(group: readonly Placed[]): boolean {
  const sorted = group.map(({ x }) => x).sort((a, b) => a - b);
  const half = sorted.length / 2;
  if (!Number.isInteger(half)) return false;
  return sorted[half]! - sorted[half - 1]! > Math.log(PEERS.ratio);
}

/** Scores all motors of all groups; groups with fewer than 4 comparable motors give none. One entry per scored motor. */
export function scorePeers(groups: readonly (readonly Peer[])[]): PeerScore[] {
  const placed = groups.map(placeGroup).filter((group) => group.length > 0);
  const { spread, freedom } = pooledScale(placed);
  const scores: PeerScore[] = [];
  for (const group of placed) {
    const torn = isTorn(group);
    const centre = spread ** 2 * (Math.PI / 2 / group.length);
    for (const { peer, x, variance, pulses, expected, ms, dispersion } of group) {
      const error = Math.sqrt(spread ** 2 + centre + variance);
      const own = LIMIT_Z * Math.sqrt(variance + centre);
      scores.push({
        key: peer.key,
        ratio: Math.exp(x),
        lower: Math.exp(x - own),
        upper: Math.exp(x + own),
        p: studentUpperTail(x / error, freedom),
        odd: false,
        sharedMs: ms,
        pulses,
        expected,
        dispersion,
        torn,
        motors: group.length,
      });
    }
  }
  markOdd(scores);
  return scores;
}

/** Benjamini-Hochberg over the plant, then the two conditions of the design. A torn group calls nobody odd. */
function markOdd(scores: PeerScore[]): void {
  const sorted = [...scores].sort((a, b) => a.p - b.p);
  let cut = 0;
  for (let i = 0; i < sorted.length; i++) {
    if (sorted[i]!.p <= (PEERS.discoveries * (i + 1)) / sorted.length) cut = i + 1;
  }
  for (const score of sorted.slice(0, cut)) {
    score.odd = score.p < PEERS.p && score.ratio > PEERS.ratio && !score.torn;
  }
}
