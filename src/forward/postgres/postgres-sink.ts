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

export interface PostgresSettings {
  readonly kind: 'postgres';
  /** `postgresql://host:port/database` */
  readonly url: string;
  readonly encryption: 'tls' | 'none';
  readonly user: string;
  readonly schema: string;
  /** auto: where the extension is present */
  readonly hypertables: 'auto' | 'never';
  readonly verifyServer: boolean;
  readonly deadlineMs: number;
}

/** Large enough that a round trip counts for little, small enough to hold few locks for a short time. Our choice, measured. */
const RECORDS_MOST = 2_000;
const PORT = 5_432;
/** Of the deadline: the server gives up first, and says why, before the socket is cut without a word. */
const STATEMENT_SHARE = 0.8;

export function openPostgresSink(settings: PostgresSettings, parts: SinkParts): Sink {
  return new PostgresSink(settings, parts);
}

class PostgresSink implements Sink {
  readonly recordsMost = RECORDS_MOST;
  private session: Session | null = null;
  private closed: ClosedChunks = null;

  constructor(
    private readonly settings: PostgresSettings,
    private readonly parts: SinkParts,
  ) {}

  async open(signal: AbortSignal): Promise<void> {
    await this.close();
    await this.explain(async () => {
      const session = await this.connect(signal);
      await this.makeReady(session, signal).catch((error: unknown) => {
        session.destroy();
        throw error;
      });
      this.session = session;
    });
  }

  async send(records: readonly SinkRecord[], signal: AbortSignal): Promise<Sent> {
    const { session } = this;
    if (session === null || !session.isOpen)
      return { outcome: 'later', reason: 'there is no connection to the server', retryAfterMs: null };
    if (records.length === 0) return { outcome: 'taken' };
    let copies: readonly Copy[] = [];
    try {
      copies = copyBatch(records, this.parts.adviceOf);
      const sources = copies.map(({ chunks }) => chunks);
      await session.copy(this.writeStatements(copies), sources, signal);
      return { outcome: 'taken' };
    } catch (error) {
      if (error instanceof UnwritableRecord)
        return { outcome: 'refused', reason: error.message, index: error.index };
      const sent = judgeFault(error, (table, line) => findLine(copies, table, line));
      return sent.outcome === 'later' && session.isOpen ? { ...sent, isOpen: true } : sent;
    }
  }

  /** On a connection of its own: it may run while there is nothing yet to send to. */
  async prepare(signal: AbortSignal): Promise<readonly string[]> {
    const { schema, hypertables } = this.settings;
    return this.explain(async () => {
      const session = await this.connect(signal);
      try {
        return await prepareSchema(session, schema, hypertables === 'auto', signal);
      } finally {
        await session.close();
      }
    });
  }

  async readHeld(
    query: { readonly day: number; readonly period: Manifest['period'] },
    signal: AbortSignal,
  ): Promise<readonly Manifest[]> {
    return this.explain(async () => {
      const { session } = this;
      if (session === null) throw new Error('there is no connection to the server');
      const text = sumDay(this.settings.schema, this.parts.site, query.day, query.period);
      return (await session.ask(text, signal)).map((row) => toManifest(row, query.day, query.period));
    });
  }

  async close(): Promise<void> {
    const { session } = this;
    this.session = null;
    await session?.close();
  }

  private async connect(signal: AbortSignal): Promise<Session> {
    const session = await Session.open(toSession(this.settings, this.parts.secrets), signal);
    await checkServer(session, signal).catch((error: unknown) => {
      session.destroy();
      throw error;
    });
    return session;
  }

  private async makeReady(session: Session, signal: AbortSignal): Promise<void> {
    const { schema } = this.settings;
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
    const { schema } = this.settings;
    return copies
      .flatMap(({ stream }) => [
        copyToStaging(stream),
        ...mergeStaging(schema, stream, this.parts.site, this.closed),
      ])
      .join('; ');
  }

  /** Errors of the driver as one sentence that says what to do. */
  private async explain<T>(work: () => Promise<T>): Promise<T> {
    try {
      return await work();
    } catch (error) {
      throw new Error(describeFault(error), { cause: error });
    }
  }
}

function toSession(
  { url, encryption, user, verifyServer, deadlineMs }: PostgresSettings,
  secrets: ReadonlyMap<string, string>,
): SessionOptions {
  const { hostname, port, pathname } = new URL(url);
  const [certificate, key] = [secrets.get('cert'), secrets.get('key')];
  return {
    host: hostname.replace(/^\[|\]$/g, ''),
    port: port === '' ? PORT : Number(port),
    database: decodeURIComponent(pathname.slice(1)) || user,
    ...{ user, password: secrets.get('password') ?? '' },
    tls:
      encryption === 'none'
        ? null
        : {
            authorities: secrets.get('ca') ?? null,
            verifyServer,
            own: certificate === undefined || key === undefined ? null : { certificate, key },
          },
    statementTimeoutMs: Math.ceil(deadlineMs * STATEMENT_SHARE),
  };
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
