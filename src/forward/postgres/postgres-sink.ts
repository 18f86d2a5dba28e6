/**
 * The sink `postgres`: rows in tables of a PostgreSQL 13 or newer, one batch one transaction. `taken` means that the server has
 * committed it to its disk. A batch whose answer was lost comes again and changes nothing: rows are replaced only by a
 * higher revision.
 */
import type { Manifest, Sent, Sink, SinkParts, SinkRecord } from '../sink.js';
import { STREAMS } from '../sink.js';
import { copyBatch, UnwritableRecord, type Copy } from './batch.js';
import { describeFault, judgeFault } from './fault.js';
import { sumDay, toManifest } from './held.js';
import { findClosed, readChunking } from './hypertable.js';
import { quoteText } from './identifier.js';
import { copyToStaging, createStaging, mergeStaging, type ClosedChunks } from './merge.js';
import { prepareSchema, VERSION_LEAST } from './prepare.js';
import { Session, type SessionOptions } from './session.js';
import { TABLES } from './tables.js';

export interface PostgresOptions {
  readonly session: SessionOptions;
  readonly schema: string;
  /** make hypertables where the extension is present */
  readonly wantsChunks: boolean;
}

/** Large enough that a round trip counts for little, small enough to hold few locks for a short time. Our choice, measured. */
const RECORDS_MOST = 2_000;

export function createPostgresSink(options: PostgresOptions, parts: SinkParts): Sink {
  return new PostgresSink(options, parts);
}

class PostgresSink implements Sink {
  readonly recordsMost = RECORDS_MOST;
  private session: Session | null = null;
  private closed: ClosedChunks = null;

  constructor(
    private readonly options: PostgresOptions,
    private readonly parts: SinkParts,
  ) {}

  async open(signal: AbortSignal): Promise<void> {
    try {
      await this.connect(signal, true);
    } catch (error) {
      throw new Error(describeFault(error), { cause: error });
    }
  }

  async send(records: readonly SinkRecord[], signal: AbortSignal): Promise<Sent> {
    let copies: readonly Copy[] = [];
    try {
      copies = copyBatch(records);
      const session = await this.connect(signal, true);
      await session.copy(
        this.writeStatements(copies),
        copies.map(({ chunk }) => chunk),
        signal,
      );
      return { outcome: 'taken' };
    } catch (error) {
      if (error instanceof UnwritableRecord)
        return { outcome: 'refused', reason: error.message, index: error.index };
      return judgeFault(error, (table, line) => findLine(copies, table, line));
    }
  }

  async prepare(signal: AbortSignal): Promise<readonly string[]> {
    const { schema, wantsChunks } = this.options;
    try {
      const session = await this.connect(signal, false);
      return await prepareSchema(session, schema, wantsChunks, signal);
    } catch (error) {
      throw new Error(describeFault(error), { cause: error });
    } finally {
      await this.close(); // the next session learns what there is now
    }
  }

  async readHeld(
    query: { readonly day: number; readonly period: Manifest['period'] },
    signal: AbortSignal,
  ): Promise<readonly Manifest[]> {
    try {
      const session = await this.connect(signal, true);
      const text = sumDay(this.options.schema, this.parts.site, query.day, query.period);
      return (await session.ask(text, signal)).map((row) => toManifest(row, query.day, query.period));
    } catch (error) {
      throw new Error(describeFault(error), { cause: error });
    }
  }

  async close(): Promise<void> {
    const session = this.session;
    this.session = null;
    await session?.close();
  }

  private async connect(signal: AbortSignal, isForRecords: boolean): Promise<Session> {
    if (this.session?.isOpen === true) return this.session;
    this.session = null;
    const session = await Session.open(this.options.session, signal);
    try {
      await checkServer(session, signal);
      if (isForRecords) await this.makeReady(session, signal);
    } catch (error) {
      session.destroy();
      throw error;
    }
    this.session = session;
    return session;
  }

  private async makeReady(session: Session, signal: AbortSignal): Promise<void> {
    const { schema } = this.options;
    const names = STREAMS.map((stream) => quoteText(TABLES[stream].name));
    const rows = await session.ask(
      `SELECT count(*)::int AS found FROM pg_tables WHERE schemaname = ${quoteText(schema)} AND tablename IN (${names.join(', ')})`,
      signal,
    );
    if (rows[0]?.['found'] !== names.length)
      throw new Error(
        `tables are missing in the schema ${schema}: run \`tallypost sinks prepare ${this.parts.name}\``,
      );
    const chunking = await readChunking(session, schema, signal);
    this.closed = chunking === 'hypertable' ? findClosed(schema) : null;
    await session.ask(STREAMS.map(createStaging).join('; '), signal);
  }

  private writeStatements(copies: readonly Copy[]): string {
    const { schema } = this.options;
    return copies
      .flatMap(({ stream }) => [
        copyToStaging(stream),
        ...mergeStaging(schema, stream, this.parts.site, this.closed),
      ])
      .join('; ');
  }
}

/** Rejects a server that is too old or does not take rows. */
async function checkServer(session: Session, signal: AbortSignal): Promise<void> {
  const [row] = await session.ask(
    `SELECT current_setting('server_version_num')::int AS version, pg_is_in_recovery() AS standby`,
    signal,
  );
  if (Number(row?.['version']) < VERSION_LEAST)
    throw new Error(`the server is older than PostgreSQL 13 (${String(row?.['version'])}): upgrade it`);
  if (row?.['standby'] === true)
    throw new Error('the server is a standby, which takes no rows: give the address of the primary');
}

function findLine(copies: readonly Copy[], table: string, line: number): number | null {
  const copy = copies.find(({ stream }) => TABLES[stream].name === table);
  return copy?.lines[line - 1] ?? null;
}
