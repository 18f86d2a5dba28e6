/**
 * Once a day: each sensor among its sisters. `above-peers` when two looks a day apart call it odd; `silent-in-company`
 * when two looks find no pulse where the sisters count, and no remedy explains it.
 */
import { enter } from '../journal.js';
import { dispersionOver } from '../../stats/dispersion.js';
import { alarmOf, transition } from '../alarm.js';
import { format } from '../figures.js';
import { CHECKPOINT_VERSION } from '../checkpoint.js';
import type { DeviationAlarmPlan } from '../plan.js';
import type { CoreState, SensorState } from '../state.js';
import { yardstickOf } from './baseline.js';
import { isComparable } from './bins.js';
import { addCell, DAY_MS, emptyCell, type CellSums } from './day-sums.js';
import { freeze, sayExposure, sayRatio } from './evidence.js';
import { PEERS, scorePeers, type Peer, type PeerScore } from './peers.js';
import { isSilent } from './silence.js';
import { touchWatch } from './watch-state.js';

/** Days that one look takes together: enough for low rates, few enough to follow a change. */
const LOOK_DAYS = 3;
/** The look waits so long after the end of the day, for readings that come late. */
const GRACE_MS = 3_600_000;
const LOOKS = 2;

/** Looks at the day that ended, when it is over for all; called with every tick. */
export function lookAround(state: CoreState): void {
  const day = Math.floor((state.now - GRACE_MS) / DAY_MS) * DAY_MS - DAY_MS;
  if (day <= state.peersDay) return;
  if (state.unread.size > 0 && state.now < day + DAY_MS + 2 * GRACE_MS) return;
  const isFirst = state.peersDay === 0;
  state.peersDay = day;
  if (!isFirst) lookAtDay(state, day);
  state.out.checkpoints.push({
    key: 'company',
    version: CHECKPOINT_VERSION,
    json: JSON.stringify({ peersDay: day, torn: [...state.torn] }),
  });
}

/** Takes up from what was written; undefined: nothing was. */
export function restoreCompany(state: CoreState, json: string | undefined): void {
  if (json === undefined) return;
  const { peersDay, torn } = JSON.parse(json) as { peersDay: number; torn: string[] };
  state.peersDay = peersDay;
  state.torn = new Set(torn);
}

/** Name of the sensors that a sensor is compared with: those of like position in one duty group. */
function companyOf({ motor, plan }: SensorState): string {
  return `${motor.plan.dutyGroup}/${plan.position}`;
}

/** By their name. */
function companies(state: CoreState): Map<string, SensorState[]> {
  const found = new Map<string, SensorState[]>();
  for (const sensor of state.sensorList) {
    const key = companyOf(sensor);
    const list = found.get(key);
    if (list === undefined) found.set(key, [sensor]);
    else list.push(sensor);
  }
  return found;
}

function peerOf(sensor: SensorState, day: number): Peer {
  const sums = new Map<string, CellSums>();
  for (const { start, cells } of sensor.watch.days) {
    if (start > day || start <= day - LOOK_DAYS * DAY_MS) continue;
    for (const [bin, cell] of cells) {
      if (!isComparable(bin)) continue;
      const sum = sums.get(bin) ?? emptyCell();
      addCell(sum, cell);
      sums.set(bin, sum);
    }
  }
  const cells = [...sums].map(([bin, cell]) => ({
    bin,
    pulses: cell.pulses,
    ms: cell.ms,
    dispersion:
      yardstickOf(sensor.watch.baseline, bin)?.dispersion ?? dispersionOver([cell.spread]).dispersion,
  }));
  return { key: sensor.key, cells };
}

function lookAtDay(state: CoreState, day: number): void {
  const groups = [...companies(state).values()].filter((group) => group.length >= PEERS.motorsMin);
  const scores = new Map<string, PeerScore>();
  for (const score of scorePeers(groups.map((group) => group.map((sensor) => peerOf(sensor, day)))))
    scores.set(score.key, score);
  for (const group of groups) {
    tellTorn(state, group, scores, day);
    for (const sensor of group) {
      const score = scores.get(sensor.key);
      if (score === undefined) continue;
      for (const plan of state.deviationAlarms.get(sensor.key) ?? []) {
        if (plan.kind === 'above-peers') judgeOdd(state, sensor, plan, score, day);
        if (plan.kind === 'silent-in-company') judgeSilent(state, sensor, plan, score, day);
      }
      // the second look must know of the first one, whatever lies between them
      touchWatch(state, sensor);
    }
  }
}

/** A group that falls into two halves is told once, when it begins to. */
function tellTorn(
  state: CoreState,
  group: readonly SensorState[],
  scores: ReadonlyMap<string, PeerScore>,
  day: number,
): void {
  const first = group.find((sensor) => scores.has(sensor.key));
  if (first === undefined) return;
  const { torn, motors } = scores.get(first.key)!;
  const high = group.filter((sensor) => (scores.get(sensor.key)?.ratio ?? 0) > 1).map(({ key }) => key);
  const company = companyOf(first);
  if (torn && !state.torn.has(company)) {
    enter(state, {
      at: day + DAY_MS,
      kind: 'notice',
      subject: first.motor.plan.dutyGroup,
      to: 'peers-torn',
      text: `half of the ${motors} motors compared discharge more than twice as often as the other half (${high.join(', ')}): which half is odd cannot be told from the counts`,
    });
  }
  if (torn) state.torn.add(company);
  else state.torn.delete(company);
}

function judgeOdd(
  state: CoreState,
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  score: PeerScore,
  day: number,
): void {
  const { watch } = sensor;
  const record = alarmOf(state, plan);
  const isPlain = score.ratio < plan.factor * (1 - plan.deadbandShare) && !score.torn;
  watch.oddLooks = score.odd && score.ratio > plan.factor ? watch.oddLooks + 1 : 0;
  watch.plainLooks = isPlain ? watch.plainLooks + 1 : 0;
  const raise = !record.active && watch.oddLooks >= LOOKS;
  const back = record.active && watch.plainLooks >= LOOKS;
  if (!raise && !back) return;
  const said = `${sensor.key} discharges ${sayRatio(score.ratio, score.lower, score.upper)} as the median of its group of ${score.motors}, under like conditions, over ${sayExposure(score.sharedMs)}`;
  const evidence = freeze(state, sensor, plan, {
    ...findingOf(score, day),
    setpoint: plan.factor,
    says: raise ? `${said}; by chance ${sayChance(score.p)}` : `${said}: no longer odd`,
  });
  const at = day + DAY_MS;
  transition(
    state,
    record,
    raise ? { kind: 'raise', at, evidence, latching: plan.latching } : { kind: 'return', at, evidence },
  );
}

function sayChance(p: number): string {
  return p < 1e-6 ? 'in fewer than one of a million looks' : `in one of ${format(1 / p)} looks`;
}

function findingOf(score: PeerScore, day: number) {
  return {
    from: day - (LOOK_DAYS - 1) * DAY_MS,
    to: day + DAY_MS,
    pulses: score.pulses,
    ms: score.sharedMs,
    ratio: score.ratio,
    lower: score.lower,
    upper: score.upper,
    expected: score.expected,
    dispersion: score.dispersion,
    confidence: 0.95,
  };
}

/** Silence that began at a remedy is what the remedy was for. */
function isRemedied(sensor: SensorState): boolean {
  const { remedyAt, countedAt } = sensor.watch;
  return remedyAt > 0 && countedAt <= remedyAt + DAY_MS;
}

function judgeSilent(
  state: CoreState,
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  score: PeerScore,
  day: number,
): void {
  const { watch } = sensor;
  const record = alarmOf(state, plan);
  const silent =
    isSilent(score.pulses, score.expected, score.dispersion, plan.falseAlarmsPerMonth) && !isRemedied(sensor);
  watch.silentLooks = silent ? watch.silentLooks + 1 : 0;
  if (record.active || watch.silentLooks < LOOKS) return;
  transition(state, record, {
    kind: 'raise',
    at: day + DAY_MS,
    latching: plan.latching,
    evidence: freeze(state, sensor, plan, {
      ...findingOf(score, day),
      setpoint: null,
      says: `${sensor.key} counted nothing over ${sayExposure(score.sharedMs)} in which its group of ${score.motors} leads to expect ${format(score.expected)}: healthy or dead, a function check can tell`,
    }),
  });
}

/** A running pulse ends the silence. `at`: end of the hour that holds it. */
export function endSilence(
  state: CoreState,
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  pulses: number,
  at: number,
): void {
  const record = state.alarms.get(plan.id);
  sensor.watch.silentLooks = 0;
  if (record?.active !== true) return;
  transition(state, record, {
    kind: 'return',
    at,
    evidence: freeze(state, sensor, plan, {
      from: at - 3_600_000,
      to: at,
      pulses,
      ms: 0,
      ratio: 0,
      lower: 0,
      upper: 0,
      expected: 0,
      dispersion: null,
      confidence: null,
      setpoint: null,
      says: `${sensor.key} counts again: ${pulses} in the last hour`,
    }),
  });
}
