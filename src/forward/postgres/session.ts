/**
 * One connection: it sets itself up as the merge expects, runs statements, and is destroyed with its socket when a deadline
 * passes, because a connection that half answered cannot be trusted with the next question.
 */
import { Socket } from 'node:net';
import type { Client } from 'pg';

export interface SessionOptions {
  readonly host: string;
  readonly port: number;
  readonly database: string;
  readonly user: string;
  /** '': none is sent */
  readonly password: string;
  /** null: in the clear */
  readonly tls: SessionTls | null;
  /** the server gives a statement up after this */
  readonly statementTimeoutMs: number;
}

export interface SessionTls {
  /** PEM of the authorities that the server's certificate is verified against; null: those of the system */
  readonly authorities: string | null;
  /** false: whatever certificate it shows is taken */
  readonly verifyServer: boolean;
  /** the gateway's own certificate and key in PEM; null: it has none */
  readonly own: { readonly certificate: string; readonly key: string } | null;
}

/** What the driver hands to a query of our own. */
interface CopyConnection {
  query(text: string): void;
  sendCopyFromChunk(chunk: Buffer): void;
  endCopyFrom(): void;
  sendCopyFail(why: string): void;
}

const KEEP_ALIVE_MS = 30_000;
const SAYS_GONE = 'the connection was closed';

export class Session {
  private isGone = false;

  private constructor(
    private readonly client: Client,
    private readonly socket: Socket,
  ) {
    client.on('error', () => this.destroy());
    client.on('end', () => (this.isGone = true));
  }

  get isOpen(): boolean {
    return !this.isGone;
  }

  /** Rejects with the error of the driver; when `signal` aborts first, the socket is gone. */
  static async open(options: SessionOptions, signal: AbortSignal): Promise<Session> {
    signal.throwIfAborted();
    const driver = await import('pg');
    const socket = new Socket();
    const client = new driver.Client({
      ...{ host: options.host, port: options.port, database: options.database, user: options.user },
      password: () => options.password,
      ssl: options.tls === null ? false : toTlsOptions(options.tls),
      ...{ application_name: 'tallypost', client_encoding: 'UTF8' },
      ...{ keepAlive: true, keepAliveInitialDelayMillis: KEEP_ALIVE_MS },
      stream: () => socket,
    });
    const session = new Session(client, socket);
    try {
      await session.guard(client.connect(), signal);
      await session.guard(client.query(settingsOf(options)), signal);
      return session;
    } catch (error) {
      session.destroy();
      throw error;
    }
  }

  /** Statements separated by semicolons, in one transaction. Rows of the last that has some, by column. */
  async ask(text: string, signal: AbortSignal): Promise<Record<string, unknown>[]> {
    const answer: unknown = await this.guard(this.client.query(text), signal);
    const results = (Array.isArray(answer) ? answer : [answer]) as { rows: Record<string, unknown>[] }[];
    return results.findLast(({ rows }) => rows.length > 0)?.rows ?? [];
  }

  /** The same with COPY … FROM STDIN among them: the chunks of one source each, in order. What a source throws ends it all. */
  async copy(text: string, sources: readonly Iterable<Buffer>[], signal: AbortSignal): Promise<void> {
    let next = 0;
    let failure: unknown = null;
    const work = new Promise<void>((resolve, reject) => {
      this.client.query({
        submit: (connection: unknown) => (connection as CopyConnection).query(text),
        handleCopyInResponse(connection: CopyConnection): void {
          try {
            for (const chunk of sources[next++] ?? []) connection.sendCopyFromChunk(chunk);
            connection.endCopyFrom();
          } catch (error) {
            failure = error;
            connection.sendCopyFail('a record cannot be written');
          }
        },
        handleCommandComplete: () => undefined,
        handleRowDescription: () => undefined,
        handleDataRow: () => undefined,
        handleEmptyQuery: () => undefined,
        handleError: (error: Error) => reject(toError(failure ?? error)),
        handleReadyForQuery: () => resolve(),
      });
    });
    await this.guard(work, signal);
  }

  /** Lets the server know, and does not wait for it. */
  async close(): Promise<void> {
    if (this.isGone) return;
    const ended = this.client.end().catch(() => undefined);
    const timer = setTimeout(() => this.destroy(), 1_000);
    await ended;
    clearTimeout(timer);
    this.destroy();
  }

  destroy(): void {
    this.isGone = true;
    this.socket.destroy();
  }

  private async guard<T>(work: Promise<T>, signal: AbortSignal): Promise<T> {
    if (this.isGone) {
      work.catch(() => undefined);
      throw new Error(SAYS_GONE);
    }
    let giveUp = (): void => undefined;
    const given = new Promise<never>((_, reject) => {
      giveUp = () => {
        this.destroy();
        reject(new Error('no answer within the deadline: the connection was cut'));
      };
    });
    if (signal.aborted) giveUp();
    signal.addEventListener('abort', giveUp, { once: true });
    try {
      return await Promise.race([work, given]);
    } finally {
      signal.removeEventListener('abort', giveUp);
      work.catch(() => undefined);
      given.catch(() => undefined);
    }
  }
}

function toError(error: unknown): Error {
  return error instanceof Error ? error : new Error(String(error));
}

function toTlsOptions({ authorities, verifyServer, own }: SessionTls) {
  return {
    minVersion: 'TLSv1.2' as const,
    rejectUnauthorized: verifyServer,
    ...(authorities === null ? {} : { ca: authorities }),
    ...(own === null ? {} : { cert: own.certificate, key: own.key }),
  };
}

/** A lock that is held for longer than half of what a statement may take is told as such, not as a slow server. */
function settingsOf({ statementTimeoutMs }: SessionOptions): string {
  const settings = {
    statement_timeout: statementTimeoutMs,
    lock_timeout: Math.ceil(statementTimeoutMs / 2),
    idle_in_transaction_session_timeout: statementTimeoutMs,
    standard_conforming_strings: 'on',
    timezone: 'UTC',
    datestyle: 'ISO',
    search_path: 'pg_catalog',
  };
  const sets = Object.entries(settings).map(([name, value]) => `SET ${name} = '${value}'`);
  // A receiver that is set to answer before its log is on disk would say "taken" of what it may lose.
  const durable = `SELECT set_config('synchronous_commit', 'local', false) WHERE current_setting('synchronous_commit') = 'off'`;
  return [...sets, durable].join('; ');
}
