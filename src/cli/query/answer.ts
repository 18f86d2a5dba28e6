/** Answers one question from the store; opens it on first use, and anew after a failure. */
import type { Fleet } from '../../advice/fleet.js';
import { readDriveChanges, readHeard, readKeptRun, readKeptRuns } from '../../store/read-commissioning.js';
import { openReader, type ReadStore } from '../../store/reader.js';
import { readJournalSince } from '../../store/read-journal.js';
import { readJournalAfter, readJournalEntries, readJournalHead, readKept } from '../../store/read-news.js';
import { readArrivals, readRefused } from '../../store/read-wiring.js';
import { readStrips } from '../../store/read-strips.js';
import { StoreError } from '../../store/store-error.js';
import { verifyJournal } from '../../store/verify-journal.js';
import { proveSensors } from '../ledger-proof.js';
import { answerPerformance } from './alarm-performance.js';
import { answerSeries } from './series.js';
import { answerTimeline } from './timeline.js';
import { drawGroup } from './group-picture.js';
import { baselineOf } from './baselines.js';
import { answerQuestion } from './compare.js';
import { openDossier, rankFleet } from './plan-list.js';
import type { QueryAnswer, QueryName, Question } from './question.js';

type Query = (reader: ReadStore, argument: never) => unknown;

/** The question that is not about the store. What reads a configuration weighs more than all the rest, and few threads need it. */
const ASIDE = 'compareFile';

const QUERIES: Readonly<Record<Exclude<QueryName, typeof ASIDE>, Query>> = {
  sensors: (reader) => reader.sensors(),
  drives: (reader) => reader.drives(),
  lastTransients: (reader) => reader.lastTransients(),
  rollups: (reader, argument) => reader.rollups(argument),
  transients: (reader, argument) => reader.transients(argument),
  bearingLives: (reader, argument) => reader.bearingLives(argument),
  count: (reader, argument) => reader.count(argument),
  strips: (reader, argument) => readStrips(reader, argument),
  actions: (reader, argument) => reader.actions(argument),
  findings: (reader, argument) => reader.findings(argument),
  alarms: (reader) => reader.alarms(),
  journal: (reader, argument) => reader.journalRows(argument),
  journalProof: (reader, argument) => verifyJournal(reader, argument),
  journalSince: (reader, { id, limit }: { id: number; limit: number }) => readJournalSince(reader, id, limit),
  journalEnd: (reader) => reader.value('SELECT coalesce(max(id), 0) FROM journal'),
  journalAfter: (reader, argument: { id: number; limit: number }) =>
    readJournalAfter(reader, argument.id, argument.limit),
  journalEntries: (reader, argument) => readJournalEntries(reader, argument),
  journalHead: (reader, argument) => readJournalHead(reader, argument),
  kept: (reader, argument) => readKept(reader, argument),
  ledger: (reader, argument) => [...proveSensors(reader, argument)],
  diagnostics: (reader) => reader.diagnostics(),
  quarantine: (reader, argument) => reader.quarantine(argument),
  compare: (reader, argument) => answerQuestion(reader, argument),
  baselines: (reader, argument: readonly string[]) => argument.map((sensor) => baselineOf(reader, sensor)),
  plan: (reader, argument) => rankFleet(reader, argument),
  performance: (reader, argument) => answerPerformance(reader, argument),
  series: (reader, argument) => answerSeries(reader, argument),
  timeline: (reader, argument) => answerTimeline(reader, argument),
  group: (reader, argument) => drawGroup(reader, argument),
  dossier: (reader, argument: { fleet: Fleet; motor: string }) =>
    openDossier(reader, argument.fleet, argument.motor),
  arrivals: (reader, argument) => readArrivals(reader, argument),
  refused: (reader) => readRefused(reader),
  heard: (reader, argument) => readHeard(reader, argument),
  driveChanges: (reader, argument) => readDriveChanges(reader, argument),
  keptRuns: (reader, argument) => readKeptRuns(reader, argument),
  keptRun: (reader, argument) => readKeptRun(reader, argument),
};

export class Answerer {
  #reader: ReadStore | null = null;

  constructor(readonly dataDir: string) {}

  /** Never rejects. */
  async answer({ id, name, argument }: Question): Promise<QueryAnswer> {
    try {
      if (name === ASIDE) {
        const { compareFile } = await import('./compare-file.js');
        return { id, ok: true, value: compareFile(argument as never) };
      }
      this.#reader ??= openReader(this.dataDir);
      return { id, ok: true, value: QUERIES[name](this.#reader, argument as never) };
    } catch (error) {
      this.close();
      const fields = error instanceof Error ? (error as Error & { code?: unknown; hint?: unknown }) : null;
      return {
        id,
        ok: false,
        message: fields?.message ?? String(error),
        code: isWrongCursor(argument, error)
          ? 'cursor'
          : typeof fields?.code === 'string'
            ? fields.code
            : 'failed',
        hint: typeof fields?.hint === 'string' ? fields.hint : null,
      };
    }
  }

  close(): void {
    this.#reader?.close();
    this.#reader = null;
  }
}

/** A cursor that is no cursor is refused by the store; one with a place of the wrong kind cannot be bound. */
function isWrongCursor(argument: unknown, error: unknown): boolean {
  if (typeof argument !== 'object' || argument === null || !('cursor' in argument)) return false;
  if (argument.cursor === null) return false;
  return (
    error instanceof TypeError ||
    error instanceof RangeError ||
    (error instanceof StoreError && error.code === 'missing')
  );
}
