/** How surely the odd one out is found among its sisters, and how many of those called odd are so by chance. */
import { openStream, type Random } from '../../simulator/random.js';
import { PEERS, scorePeers, type Peer } from '../../src/core/deviation/peers.js';
import { pearson } from '../../src/stats/dispersion.js';
import { drawFleet, HEALTHY_SPREAD, logBetween } from './fleet.js';
import { openNoise, SHAPES } from './noise.js';

export interface OddResult {
  fleets: number;
  /** of one odd motor a fleet: ranked first in its group, called odd on both looks */
  rankedFirst: number;
  found: number;
  /** odd ones called, of all that there were */
  called: number;
  /** healthy motors called odd, and their share of all called */
  falseCalls: number;
  falseShare: number;
  /** pairs of odd ones in groups of eight, of which both were called odd */
  pairs: number;
  bothFound: number;
}

const LOOK_DAYS = 3;
const FACTOR = 3;

interface Drawn {
  key: string;
  shape: (typeof SHAPES)[number];
  ratePerS: number;
  dispersion: number;
  burstS: number;
  runShare: number;
  isOdd: boolean;
}

/** One look of three days at one motor. */
function look(random: Random, motor: Drawn): Peer {
  const noise = openNoise(random, motor);
  const windows = Math.round(LOOK_DAYS * 8640 * motor.runShare);
  const factor = motor.isOdd ? FACTOR : 1;
  let pulses = 0;
  let q = 0;
  let block = 0;
  for (let i = 1; i <= windows; i++) {
    const n = noise(factor);
    pulses += n;
    block += n;
    if (i % 60 !== 0) continue;
    q += block ** 2 / 600;
    block = 0;
  }
  const found = pearson(q, pulses, windows * 10, Math.floor(windows / 60)) ?? 1;
  const cell = { bin: 'all', pulses, ms: windows * 10_000, dispersion: Math.max(1, found) };
  return { key: motor.key, cells: [cell] };
}

/** Called odd on two looks on end, as the alarm asks. */
function lookTwice(random: Random, groups: readonly (readonly Drawn[])[]) {
  const first = scorePeers(groups.map((group) => group.map((motor) => look(random, motor))));
  const second = scorePeers(groups.map((group) => group.map((motor) => look(random, motor))));
  const odd = new Set(first.filter((score) => score.odd).map(({ key }) => key));
  const called = new Set(second.filter((score) => score.odd && odd.has(score.key)).map(({ key }) => key));
  return { first, called };
}

function drawGroup(random: Random, name: string, size: number, odd: number): Drawn[] {
  const ratePerS = logBetween(random, 0.02, 2);
  const dispersion = logBetween(random, 1, 20);
  return Array.from({ length: size }, (_, i) => ({
    key: `${name}-${i}`,
    shape: SHAPES[random.integer(0, SHAPES.length - 1)]!,
    ratePerS: ratePerS * Math.exp(random.normal(0, HEALTHY_SPREAD)),
    dispersion,
    burstS: logBetween(random, 5, 300),
    runShare: random.between(0.4, 0.95),
    isOdd: i < odd,
  }));
}

/** `fleets` plants of 60 motors, one odd one each; and as many with two odd ones in one group of eight. */
export function scoreOdd(seed: number, fleets: number): OddResult {
  const result: OddResult = {
    ...{ fleets, rankedFirst: 0, found: 0, called: 0, falseCalls: 0, falseShare: 0, pairs: 0, bothFound: 0 },
  };
  for (let f = 0; f < fleets; f++) {
    const random = openStream(seed, 'odd', String(f));
    const byGroup = new Map<string, Drawn[]>();
    for (const motor of drawFleet(seed + f, 'odd', { motors: 60, rate: [0.02, 2], dispersion: [1, 20] }))
      byGroup.set(motor.group, [...(byGroup.get(motor.group) ?? []), { ...motor, isOdd: false }]);
    const groups = [...byGroup.values()];
    const chosen = groups[random.integer(0, groups.length - 1)]!;
    const odd = chosen[random.integer(0, chosen.length - 1)]!;
    odd.isOdd = true;
    const { first, called } = lookTwice(random, groups);
    const keys = new Set(chosen.map(({ key }) => key));
    const ranked = first.filter(({ key }) => keys.has(key)).sort((a, b) => a.p - b.p || b.ratio - a.ratio);
    if (ranked[0]?.key === odd.key) result.rankedFirst += 1;
    if (called.has(odd.key)) result.found += 1;
    result.called += called.has(odd.key) ? 1 : 0;
    result.falseCalls += [...called].filter((key) => key !== odd.key).length;
    const two = [drawGroup(random, 'two', 8, 2)];
    for (let g = 0; g < 6; g++) two.push(drawGroup(random, `g${g}`, random.integer(6, 12), 0));
    const pair = lookTwice(random, two);
    result.pairs += 1;
    if (pair.called.has('two-0') && pair.called.has('two-1')) result.bothFound += 1;
    result.falseCalls += [...pair.called].filter((key) => key !== 'two-0' && key !== 'two-1').length;
    result.called += pair.called.has('two-0') ? 1 : 0;
    result.called += pair.called.has('two-1') ? 1 : 0;
  }
  result.falseShare = result.falseCalls / Math.max(1, result.falseCalls + result.called);
  return result;
}

/** What the two conditions of the design are, for the report. */
export const ODD_RULE = `p < ${PEERS.p} and ratio > ${PEERS.ratio}, on two looks`;
