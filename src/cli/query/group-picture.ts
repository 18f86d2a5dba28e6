/** A duty group side by side: every sensor in every condition bin, and like with like where enough is shared. */
import type {
  GroupCell,
  GroupPicture,
  GroupQuery,
  GroupSensor,
  RateWithLimits,
} from '../../api/charts-reader.js';
import { writeHours } from '../../advice/comparison.js';
import { listGroups, nameSensor } from '../../advice/fleet.js';
import { writeRatio } from '../../advice/judgement.js';
import { unlikeReason, type Side } from '../../advice/side.js';
import { PEERS, scorePeers, type PeerScore } from '../../core/deviation/peers.js';
import { rateLimits } from '../../stats/poisson.js';
import { readReach } from '../../store/read-sides.js';
import type { ReadStore } from '../../store/reader.js';
import { weekBefore } from './compare.js';
import { NoSuchEntry } from './no-such-entry.js';
import { listActions } from './period-question.js';
import { shrinkToHours, sideOf } from './sides.js';
import { toPeer } from './sister-question.js';

const CONFIDENCE = 0.95;
const MINUTE_MS = 60_000;
/** Sentences at a position: more than a reader takes in say less. The table has all. */
const SENTENCES_MOST = 4;

interface Member {
  readonly sensor: string;
  readonly side: Side;
}

/** Throws `NoSuchEntry` for a group that the fleet does not have. */
export function drawGroup(reader: ReadStore, query: GroupQuery): GroupPicture {
  const fleet = query.fleet.filter(({ dutyGroup }) => dutyGroup === query.group);
  if (fleet.length === 0) {
    throw new NoSuchEntry(`There is no duty group ${query.group} in the configuration.`, 'Check the name.');
  }
  const groups = listGroups(fleet);
  const to = query.to ?? readReach(reader, groups.flat())?.to ?? query.now;
  const actions = listActions(reader, null);
  const spanOf = (sensor: string) =>
    query.from === null ? weekBefore(to, sensor, actions) : shrinkToHours({ from: query.from, to });
  const found = groups.map((keys) => {
    const members = keys.map((sensor) => ({ sensor, side: sideOf(reader, sensor, spanOf(sensor), false) }));
    return drawPosition(query, members);
  });
  const sensors = found.flatMap((each) => each.sensors);
  return {
    group: query.group,
    from: query.from ?? Math.min(to, ...sensors.map(({ sensor }) => spanOf(sensor).from)),
    to,
    bins: listBins(sensors),
    sensors,
    positions: found.map(({ position, missing }) => ({ position, missing })),
  };
}

function drawPosition(
  query: GroupQuery,
  members: readonly Member[],
): { position: string; missing: string; sensors: GroupSensor[] } {
  const scores = scorePeers([members.map(({ sensor, side }) => toPeer(sensor, side))]);
  const expected = scores.reduce((sum, score) => sum + score.expected, 0);
  const sharedMs = scores.reduce((sum, score) => sum + score.sharedMs, 0);
  const groupPerMin = sharedMs > 0 ? (MINUTE_MS * expected) / sharedMs : 0;
  const told = scores
    .filter((score) => score.odd || (score.torn && score.ratio > 1))
    .sort((a, b) => b.ratio - a.ratio)
    .slice(0, SENTENCES_MOST);
  const sensors = members.map(({ sensor, side }) => {
    const score = scores.find(({ key }) => key === sensor);
    return {
      ...{ sensor, from: side.from, to: side.to, cells: cellsOf(side, query.deadTimesS[sensor] ?? 0) },
      matched: score === undefined ? null : toMatched(score, groupPerMin),
      sentence: score !== undefined && told.includes(score) ? writeScore(score) : '',
    };
  });
  const position = members[0]?.sensor.split('/')[1] ?? '';
  return { position, missing: tellMissing(members, scores.length), sensors };
}

function cellsOf(side: Side, deadTimeS: number): GroupCell[] {
  return side.bins.flatMap(({ bin, pulses, ms, phi }) => {
    const limits = rateLimits(pulses, ms, { confidence: CONFIDENCE, dispersion: phi, deadTimeS });
    if (limits === null) return [];
    const rate = { mean: limits.ratePerMin, lower: limits.lowerPerMin, upper: limits.upperPerMin };
    return [{ bin, pulses, ms, dispersion: phi, rate }];
  });
}

/**
 * With the figures of the table beside it. Asked alone, a sensor is put against its middle sisters day by day instead: the same
 * ratio by another way, with other limits.
 */
function writeScore({ key, ratio, lower, upper, sharedMs, motors, torn }: PeerScore): string {
  const [factor = '', limits = ''] = writeRatio({ ratio, lower, upper }).split(' (');
  const tail = torn ? '; the group falls into two halves, and which of them is odd cannot be told' : '';
  return (
    `${nameSensor(key)} discharges ${factor} times (${limits} as often as the middle of its group of ${motors}, ` +
    `under like conditions, over ${writeHours(sharedMs)} of running${tail}.`
  );
}

/** The rate that the sensor would have in the middle of its group's conditions: its ratio to the group times the group's rate. */
function toMatched(score: PeerScore, groupPerMin: number): NonNullable<GroupSensor['matched']> {
  const ratio: RateWithLimits = { mean: score.ratio, lower: score.lower, upper: score.upper };
  return {
    ratio,
    rate: {
      mean: ratio.mean * groupPerMin,
      lower: ratio.lower * groupPerMin,
      upper: ratio.upper * groupPerMin,
    },
    ...{ pulses: score.pulses, ms: score.sharedMs, p: score.p, motors: score.motors },
    ...{ isOdd: score.odd, isTorn: score.torn },
  };
}

function tellMissing(members: readonly Member[], scored: number): string {
  if (scored > 0) return '';
  const hours = PEERS.sharedMsMin / 3_600_000;
  if (members.length < PEERS.motorsMin) {
    return `a group of ${members.length} is too small to call one of them odd: that takes ${PEERS.motorsMin} motors`;
  }
  const names = members.filter(({ side }) => side.bins.length === 0).map(({ sensor }) => nameSensor(sensor));
  const silent = names.length === 0 ? '' : `; nothing ran of ${names.join(', ')}`;
  return `fewer than ${PEERS.motorsMin} motors share ${hours} h of like conditions${silent}`;
}

function listBins(sensors: readonly GroupSensor[]): GroupPicture['bins'] {
  const found = new Map<string, { motors: Set<string>; ms: number }>();
  for (const { sensor, cells } of sensors) {
    for (const { bin, ms } of cells) {
      const sum = found.get(bin) ?? { motors: new Set(), ms: 0 };
      sum.motors.add(sensor.split('/')[0] ?? '');
      found.set(bin, { motors: sum.motors, ms: sum.ms + ms });
    }
  }
  return [...found]
    .map(([bin, { motors, ms }]) => ({ bin, unlike: unlikeReason(bin), motors: motors.size, ms }))
    .sort((a, b) => b.ms - a.ms);
}
