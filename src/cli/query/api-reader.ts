/**
 * What the HTTP interface reads, asked of threads of their own: a long answer stalls neither intake nor live readers.
 * What is asked all the time, the state of motors and the alarms, waits for nothing long: what reads days of many sensors, or the
 * whole configuration file, has a lane of its own, and so have the proofs of ledger and journal, which read everything.
 */
import type { ApiReader } from '../../api/deps.js';
import type { FileComparison, InForceConfigs } from './compare-file.js';
import { QueryLane } from './lane.js';

const WAITING_MOST = 64;
const PROOFS_WAITING_MOST = 4;

export interface OpenReader extends ApiReader {
  compareFile(configs: InForceConfigs): Promise<FileComparison>;
  close(): Promise<void>;
}

/** `close` ends the threads; what waits then is rejected. */
export function openApiReader(dataDir: string): OpenReader {
  const lane = new QueryLane(dataDir, WAITING_MOST);
  const long = new QueryLane(dataDir, WAITING_MOST);
  const proofs = new QueryLane(dataDir, PROOFS_WAITING_MOST);
  return {
    sensors: () => lane.ask('sensors'),
    drives: () => lane.ask('drives'),
    lastTransients: () => lane.ask('lastTransients'),
    rollups: (query) => long.ask('rollups', query),
    transients: (query) => lane.ask('transients', query),
    bearingLives: (query) => long.ask('bearingLives', query),
    count: (query) => long.ask('count', query),
    strips: (from) => long.ask('strips', from),
    actions: (query) => lane.ask('actions', query),
    findings: (query) => lane.ask('findings', query),
    alarms: () => lane.ask('alarms'),
    journal: (query) => lane.ask('journal', query),
    journalSince: (query) => lane.ask('journalSince', query),
    journalEnd: () => lane.ask('journalEnd'),
    journalProof: (expected) => proofs.ask('journalProof', expected),
    ledger: (query) => proofs.ask('ledger', query),
    diagnostics: () => lane.ask('diagnostics'),
    quarantine: (query) => lane.ask('quarantine', query),
    arrivals: (query) => lane.ask('arrivals', query),
    refused: () => lane.ask('refused'),
    heard: (query) => long.ask('heard', query),
    driveChanges: (query) => lane.ask('driveChanges', query),
    keptRuns: (query) => lane.ask('keptRuns', query),
    keptRun: (id) => lane.ask('keptRun', id),
    compareFile: (configs) => long.ask('compareFile', configs),
    close: async () => {
      await Promise.all([lane.close(), long.close(), proofs.close()]);
    },
  };
}
