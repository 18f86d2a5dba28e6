/** From what the gateway knows of itself to its body, with a sentence for each part. */
import { formatUtc, formatUtcOrNull } from '../../shared/time.js';
import { sayAge } from '../core/figures.js';
import type { Standing } from './deps.js';
import type { GatewayBody } from './gateway-bodies.js';
import type { ConfigurationRow, PlcRow, ProofRow, StationFigures, StorageRow } from './station-reader.js';

const CHANGES_MOST = 100;
const UNBALANCED_MOST = 50;
/** Less than this is told with a warning, as the share of the file system. Our choice. */
const FREE_SHARE_MIN = 0.1;

export function toHealthBody({ unreadyReasons, floodSince, ownAlarms }: Standing): GatewayBody['health'] {
  return {
    ready: unreadyReasons.length === 0,
    reasons: [...unreadyReasons],
    flood_since: formatUtcOrNull(floodSince),
    own_alarms: ownAlarms.map(({ id, evidence, note }) => ({ id, says: evidence?.says ?? note })),
  };
}

export function toIntakeBody(figures: StationFigures): GatewayBody['intake'] {
  return {
    ...{ clients: figures.clients, received: figures.received, acknowledged: figures.acknowledged },
    ...{ refused: figures.refused, denied: figures.denied, cut: figures.cut },
    ...{ per_s_1m: figures.perS1m, per_s_10m: figures.perS10m },
    ...{ pending_bytes: figures.pendingBytes, commit_wait_ms: figures.commitWaitMs },
    last_commit_at: formatUtcOrNull(figures.lastCommitAt),
    commit_failures: figures.commitFailures,
  };
}

export function toProofBody(proof: ProofRow | null): GatewayBody['ledger'] {
  if (proof === null) {
    const nothing = {
      sensors: 0,
      counted: 0,
      classified: 0,
      pending: 0,
      unknown_stretches: 0,
      unbalanced: [],
    };
    return { state: 'not-proved', proved_at: null, ...nothing, says: 'the first proof is under way' };
  }
  const { provedAt, sensors, counted, classified, pending, unknownStretches, unbalanced } = proof;
  const isBalanced = unbalanced.length === 0;
  return {
    state: isBalanced ? 'balanced' : 'unbalanced',
    proved_at: formatUtc(provedAt),
    ...{ sensors, counted, classified, pending, unknown_stretches: unknownStretches },
    unbalanced: unbalanced.slice(0, UNBALANCED_MOST),
    says: isBalanced
      ? `every pulse that was counted at ${sensors} sensors is in exactly one class`
      : `${unbalanced.length} of ${sensors} sensors do not balance: keep the store, and report it with tallypost ledger`,
  };
}

export function toStorageBody(row: StorageRow): GatewayBody['storage'] {
  const { folder, databaseBytes, walBytes, diskBytes, freeBytes, retention } = row;
  const isLow = diskBytes !== null && freeBytes !== null && freeBytes < FREE_SHARE_MIN * diskBytes;
  return {
    ...{ folder, database_bytes: databaseBytes, wal_bytes: walBytes },
    ...{ disk_bytes: diskBytes, free_bytes: freeBytes },
    retention: Object.entries(retention).map(([records, days]) => ({ records, days })),
    says:
      freeBytes === null
        ? 'how much is free is not known'
        : isLow
          ? 'less than a tenth of the disk is free: make room, or keep records for a shorter time'
          : 'there is room',
  };
}

/** The clock is why nothing is taken in. */
export function isClockHalted({ ownAlarms }: Standing): boolean {
  return ownAlarms.some(({ kind }) => kind === 'clock-wrong');
}

/** `now`: of the gateway's clock, ms. */
export function toClockBody(figures: StationFigures, now: number, standing: Standing): GatewayBody['clock'] {
  const offsetMs = Math.round(figures.clockOffsetMs);
  const isHalted = isClockHalted(standing);
  const says = isHalted ? standing.unreadyReasons.join('; ') : tellPassed(offsetMs, figures.clockDoubt);
  return {
    now: formatUtc(now),
    wall: formatUtc(now - offsetMs),
    offset_ms: offsetMs,
    trusted: !isHalted && says === null,
    halted: isHalted,
    says: says ?? 'nothing speaks against it',
  };
}

/** What a person lets pass; null: nothing. */
function tellPassed(offsetMs: number, doubt: string | null): string | null {
  if (offsetMs > 0)
    return `a person let the gateway go on ${sayAge(Math.round(offsetMs / 1000))} ahead of the machine's clock: set that, and what was added goes away`;
  return doubt === null ? null : `a person let the gateway go on although ${doubt}: find out which is right`;
}

export function toConfigurationBody(row: ConfigurationRow, revision: string): GatewayBody['configuration'] {
  const { file, inForceSince, state, fileRevision, changes, problems } = row;
  return {
    ...{ file, revision, in_force_since: formatUtc(inForceSince), state, file_revision: fileRevision },
    changes: changes.slice(0, CHANGES_MOST).map(({ path, before, after, needsRestart }) => ({
      ...{ path, in_force: before, file: after, needs_restart: needsRestart },
    })),
    more_changes: Math.max(0, changes.length - CHANGES_MOST),
    problems: [...problems],
    says: tellConfiguration(row),
  };
}

/** Information only, as the register map says too. */
export function toPlcBody({ fault, ...row }: PlcRow): GatewayBody['plc'][number] {
  return { ...row, says: tellPlc({ fault, ...row }) };
}

function tellPlc({ state, port, clients, fault }: PlcRow): string {
  if (state === 'missing') return `it is configured, and does not run: ${fault}`;
  if (port === null) return fault === '' ? 'it is starting' : `it does not listen: ${fault}`;
  if (clients === 0) return `it listens on port ${port}, and nobody is connected`;
  return `it listens on port ${port}, ${clients === 1 ? 'one is' : `${clients} are`} connected`;
}

/** What the file says of the sinks, whose settings are taken over at a start. `names`: those that are in force. */
export function compareSinks({ state, changes }: ConfigurationRow, names: readonly string[]) {
  const told = changes.flatMap((change) => {
    const [section, name = ''] = change.path.split('.');
    return section === 'sinks' && name !== '' ? [{ ...change, name }] : [];
  });
  const fileOf = (sink: string): GatewayBody['sinks'][number]['file'] => {
    if (state === 'not-valid' || state === 'not-read') return 'not-known';
    const own = told.filter(({ name }) => name === sink);
    if (own.length === 0) return 'same';
    return own.some(({ path, after }) => path === `sinks.${sink}.name` && after === null)
      ? 'gone'
      : 'differs';
  };
  return {
    fileOf,
    toCome: [...new Set(told.map(({ name }) => name))].filter((name) => !names.includes(name)),
  };
}

function tellConfiguration({ state, changes, problems }: ConfigurationRow): string {
  switch (state) {
    case 'same':
      return 'the file says what is in force';
    case 'differs': {
      const restarts = changes.filter(({ needsRestart }) => needsRestart).length;
      const head = `differs from file in ${changes.length} ${changes.length === 1 ? 'setting' : 'settings'}`;
      if (restarts === changes.length) return `${head}, taken over at the next start only`;
      const later = restarts === 0 ? '' : `, ${restarts} of them at the next start only`;
      return `${head}: SIGHUP takes the file over${later}`;
    }
    case 'not-valid':
      return `the file is not valid (${problems.length === 1 ? 'one problem' : `${problems.length} problems`}): the old configuration stays in force`;
    case 'not-read':
      return 'the file has not been looked at yet';
  }
}
