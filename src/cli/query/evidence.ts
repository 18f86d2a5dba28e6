/** What hypotheses are made from, gathered from the store for one motor. */
import { compareAxes } from '../../advice/axes.js';
import type {
  FindingEvidence,
  MotorEvidence,
  NeighbourEvidence,
  RateEvidence,
  SensorEvidence,
} from '../../advice/evidence.js';
import type { Fleet, FleetMotor } from '../../advice/fleet.js';
import type { ClassSums } from '../../store/read-evidence.js';
import {
  readBackground,
  readBypass,
  readClasses,
  readFaults,
  readModulation,
  type BackgroundMinute,
} from '../../store/read-evidence.js';
import { readFindings } from '../../store/read-maintenance.js';
import type { ReadStore } from '../../store/reader.js';
import { compare } from '../../stats/compare.js';
import { pearson } from '../../stats/dispersion.js';
import { poissonLimits } from '../../stats/poisson.js';
import { unlikeReason, type Side } from '../../advice/side.js';
import { answerBaseline } from './baseline-question.js';
import { answerSisters } from './sister-question.js';
import { newestWeek } from './compare.js';
import { toRatio } from './remedies.js';
import { sideOf, type Span } from './sides.js';

const MINUTE_MS = 60_000;
/** A neighbour's minute counts as on or off only this far from its edges: what its switching itself radiates is no run state. */
const EDGE_MS = 120_000;
/** Background on either side of a neighbour's run state that is worth comparing. */
const NEIGHBOUR_MS_MIN = 600_000;
const FINDINGS_MOST = 1000;
const CONFIDENCE = 0.95;

export function listFindings(
  reader: ReadStore,
  motor: string | null,
): (FindingEvidence & { motor: string })[] {
  const query = { motor, from: null, to: null, limit: FINDINGS_MOST, cursor: null };
  return readFindings(reader, query)
    .items.filter(({ withdrawn }) => withdrawn === null)
    .map(({ motor: name, end, at, modes, signs, lubricant, removed }) => ({
      motor: name,
      end,
      at,
      modes,
      signs,
      lubricant,
      isRemoved: removed,
    }));
}

/** All but what was done: the actions come with their answers, see remedies.ts. */
export function gatherEvidence(
  reader: ReadStore,
  fleet: Fleet,
  own: FleetMotor,
): Omit<MotorEvidence, 'actions'> {
  const { motor, powerKw, frameMm, positions } = own;
  return {
    motor,
    powerKw,
    frameMm,
    sensors: positions.map((position) => gatherSensor(reader, fleet, own, position)),
    findings: listFindings(reader, motor),
  };
}

function gatherSensor(reader: ReadStore, fleet: Fleet, own: FleetMotor, position: string): SensorEvidence {
  const sensor = `${own.motor}/${position}`;
  const span = newestWeek(reader, fleet, sensor, { from: null, to: null });
  const side = sideOf(reader, sensor, span, false);
  const query = { sensor, ...span };
  const classes = readClasses(reader, query);
  return {
    sensor,
    position,
    running: rateOfSide(side),
    background: rateOfClass(classes.background),
    bypass: rateOfClass(readBypass(reader, query)),
    commonPulses: classes.commonPulses,
    sisters: toRatio(answerSisters(reader, fleet, sensor, span).comparison),
    baseline: toRatio(answerBaseline(reader, sensor, null, null).comparison),
    axes: compareAxes(side),
    neighbours: compareNeighbours(reader, fleet, own, query),
    faults: [
      ...readFaults(reader, sensor, span.from),
      ...(classes.rejectedPulses > 0
        ? [`${classes.rejectedPulses} pulses were rejected as implausible`]
        : []),
    ],
  };
}

function rateOfSide({ bins }: Side): RateEvidence | null {
  const like = bins.filter(({ bin }) => unlikeReason(bin) === null);
  const pulses = like.reduce((sum, bin) => sum + bin.pulses, 0);
  const ms = like.reduce((sum, bin) => sum + bin.ms, 0);
  const variance = like.reduce((sum, bin) => sum + bin.phi * bin.pulses, 0);
  return rateOf(pulses, ms, pulses > 0 ? variance / pulses : 1);
}

/** Blocks are what the sums were made over: hours, or single increments. */
function rateOfClass({ pulses, ms, q, blocks }: ClassSums): RateEvidence | null {
  return rateOf(pulses, ms, Math.max(1, pearson(q, pulses, ms / 1000, blocks) ?? 1));
}

/** null: no exposure. */
function rateOf(pulses: number, ms: number, phi: number): RateEvidence | null {
  if (ms <= 0) return null;
  const limits = poissonLimits(pulses, CONFIDENCE, phi);
  const seconds = ms / 1000;
  return {
    perS: pulses / seconds,
    lowerPerS: limits.lower / seconds,
    upperPerS: limits.upper / seconds,
    pulses,
    ms,
  };
}

/** Background of the sensor while each neighbour of its zone modulated, over that while it did not. */
function compareNeighbours(
  reader: ReadStore,
  fleet: Fleet,
  own: FleetMotor,
  query: Span & { sensor: string },
): NeighbourEvidence[] {
  const minutes = readBackground(reader, query);
  if (minutes.length === 0) return [];
  return fleet
    .filter(({ motor, zone }) => motor !== own.motor && zone === own.zone)
    .flatMap(({ motor }) => {
      const edges = readModulation(reader, motor, query.from, query.to);
      const on = sumMinutes(minutes.filter(({ start }) => isSteady(edges, start, true)));
      const off = sumMinutes(minutes.filter(({ start }) => isSteady(edges, start, false)));
      if (on.exposureMs < NEIGHBOUR_MS_MIN || off.exposureMs < NEIGHBOUR_MS_MIN) return [];
      if (on.pulses + off.pulses === 0) return [];
      const found = compare(
        { bins: [on], days: null },
        { bins: [off], days: null },
        { confidence: CONFIDENCE, nullRatio: 1 },
      );
      return [{ motor, ratio: found.ratio ?? Infinity, lower: found.lower, upper: found.upper }];
    });
}

/** Whether the drive was so over the whole minute and well around it. `edges` in order of time. */
function isSteady(
  edges: readonly { at: number; isModulating: boolean }[],
  start: number,
  isModulating: boolean,
): boolean {
  let inForce: boolean | null = null;
  for (const edge of edges) {
    if (edge.at > start + MINUTE_MS + EDGE_MS) break;
    if (edge.at > start - EDGE_MS && edge.isModulating !== inForce && inForce !== null) return false;
    inForce = edge.isModulating;
  }
  return inForce === isModulating;
}

function sumMinutes(minutes: readonly BackgroundMinute[]) {
  let pulses = 0;
  let exposureMs = 0;
  let q = 0;
  for (const each of minutes) {
    pulses += each.pulses;
    exposureMs += each.ms;
    q += (1000 * each.pulses * each.pulses) / each.ms;
  }
  const phi = Math.max(1, pearson(q, pulses, exposureMs / 1000, minutes.length) ?? 1);
  return { bin: '', pulses, exposureMs, phi };
}
