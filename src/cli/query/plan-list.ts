/** The plan list over the whole plant, and everything known about one motor of it. */
import type { RatioEvidence } from '../../advice/evidence.js';
import { listGroups, type Fleet, type FleetMotor } from '../../advice/fleet.js';
import { adviseOn } from '../../advice/hypotheses.js';
import type { CandidateSensor } from '../../advice/candidate-sensor.js';
import { rankCandidates, type PlanList } from '../../advice/plan-list.js';
import type { MotorDossier } from '../../api/advice-reader.js';
import { isAtPlace } from '../../../shared/maintenance-terms.js';
import type { MaintenanceAction } from '../../core/maintenance-rows.js';
import { scorePeers, type PeerScore } from '../../core/deviation/peers.js';
import { readReach, readRunning } from '../../store/read-sides.js';
import type { ReadStore } from '../../store/reader.js';
import { answerBaseline } from './baseline-question.js';
import { weekBefore } from './compare.js';
import { NoSuchEntry } from './no-such-entry.js';
import { gatherEvidence, listFindings } from './evidence.js';
import { listActions } from './period-question.js';
import { answerRemedies, toActionEvidence, toRatio } from './remedies.js';
import { toPeer } from './sister-question.js';
import { sideOf } from './sides.js';

/** All motors of the fleet, ranked. */
export function rankFleet(reader: ReadStore, fleet: Fleet): PlanList {
  const actions = listActions(reader, null);
  const scores = scoreFleet(reader, fleet, actions);
  const findings = listFindings(reader, null);
  return rankCandidates(
    fleet.map(({ motor, positions }) => {
      const own = actions.filter((action) => action.motor === motor);
      const sensors = positions.map((position) => `${motor}/${position}`);
      const torn = sensors.some((sensor) => isTornHigh(scores.get(sensor)));
      return {
        motor,
        sensors: sensors.map((sensor) => toCandidateSensor(reader, sensor, own, scores.get(sensor))),
        actions: toActionEvidence(reader, sensors, own, answerRemedies(reader, sensors, own)),
        findings: findings.filter((finding) => finding.motor === motor),
        isUndecided: torn,
      };
    }),
  );
}

/** One motor with all that speaks for its place. Throws `NoSuchEntry` for a motor that the fleet does not have. */
export function openDossier(reader: ReadStore, fleet: Fleet, motor: string): MotorDossier {
  const own: FleetMotor | undefined = fleet.find((each) => each.motor === motor);
  const list = rankFleet(reader, fleet);
  const line = list.lines.find((each) => each.motor === motor);
  if (own === undefined || line === undefined)
    throw new NoSuchEntry(`There is no motor ${motor} in the configuration.`, 'Check the name.');
  const sensors = own.positions.map((position) => `${motor}/${position}`);
  const actions = listActions(reader, motor);
  const remedies = answerRemedies(reader, sensors, actions);
  const advice = adviseOn({
    ...gatherEvidence(reader, fleet, own),
    actions: toActionEvidence(reader, sensors, actions, remedies),
  });
  return { line, standing: list.standing, remedies, advice };
}

/** Every sensor among its sisters, with the scale pooled and false discoveries bounded over the plant: as the alarm does it. */
function scoreFleet(
  reader: ReadStore,
  fleet: Fleet,
  actions: readonly MaintenanceAction[],
): Map<string, PeerScore> {
  const groups = listGroups(fleet).map((keys) => {
    const end = readReach(reader, keys)?.to ?? 0;
    return keys.map((key) => toPeer(key, sideOf(reader, key, weekBefore(end, key, actions), false)));
  });
  return new Map(scorePeers(groups).map((score) => [score.key, score]));
}

function isTornHigh(score: PeerScore | undefined): boolean {
  return score !== undefined && score.torn && score.ratio > 1;
}

function toCandidateSensor(
  reader: ReadStore,
  sensor: string,
  actions: readonly MaintenanceAction[],
  score: PeerScore | undefined,
): CandidateSensor {
  const position = sensor.split('/')[1] ?? '';
  const fitted = actions
    .filter(({ action, end }) => action === 'bearing-replaced' && isAtPlace(end, position))
    .at(-1);
  const since = fitted?.at ?? readReach(reader, [sensor])?.from ?? null;
  const dose = since === null ? { pulses: 0, ms: 0 } : readRunning(reader, sensor, since);
  return {
    position,
    sisters: score === undefined ? null : ratioOf(score),
    isOdd: score?.odd ?? false,
    baseline: toRatio(answerBaseline(reader, sensor, null, null).comparison),
    dosePulses: dose.pulses,
    runningMs: dose.ms,
    since,
    isSinceFitted: fitted !== undefined,
  };
}

function ratioOf({ ratio, lower, upper }: PeerScore): RatioEvidence {
  return { ratio, lower, upper };
}
