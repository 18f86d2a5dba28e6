/** Compiles the load generator and runs it. */
import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { runToEnd } from '../support/child.js';
import { repositoryRoot } from '../support/repository.js';

/** What to send; see load.c. Seconds of 0 with `messages` set: a fixed amount of work. */
export interface LoadWishes {
  readonly port: number;
  readonly site: string;
  readonly connections: number;
  readonly window: number;
  readonly seconds: number;
  readonly warmupSeconds?: number;
  /** connections that are only there */
  readonly idle?: number;
  /** all connections together; absent: as fast as it goes */
  readonly perSecond?: number;
  /** readings per connection; absent: as many as fit into the time */
  readonly messages?: number;
  /** event time moves on by so much each reading; absent: the time of sending */
  readonly stepMs?: number;
  /** event time begins so long ago */
  readonly behindMs?: number;
  /** publish for each motor that it runs, first */
  readonly driveStates?: boolean;
}

export interface LoadReport {
  readonly connections: number;
  readonly window: number;
  readonly idle: number;
  readonly seconds: number;
  /** within the measured time */
  readonly acknowledged: number;
  readonly perSecond: number;
  /** from handing the reading to the kernel to reading its acknowledgement */
  readonly p50Us: number;
  readonly p99Us: number;
  readonly maxUs: number;
  /** processor time of the generator itself, as a share of one core */
  readonly cpuShare: number;
  readonly outOfOrder: number;
  /** warm-up and end included */
  readonly totalAcknowledged: number;
  /** per connection, from the first on */
  readonly acked: readonly number[];
}

/** Compiles into `folder` and returns the program. Throws when there is no compiler. */
export function compileLoad(folder: string): string {
  const source = join(repositoryRoot(), 'tests/bench/load.c');
  const program = join(folder, 'load');
  const done = spawnSync('cc', ['-O2', '-Wall', '-o', program, source], { encoding: 'utf8' });
  if (done.error !== undefined) {
    throw new Error(
      `the load generator needs a C compiler, and "cc" could not be started (${done.error.message}): install gcc or clang`,
    );
  }
  if (done.status !== 0) throw new Error(`cc could not compile tests/bench/load.c:\n${done.stderr}`);
  return program;
}

/** Throws when the generator reports that connections broke or acknowledgements are missing. */
export async function runLoad(program: string, wishes: LoadWishes): Promise<LoadReport> {
  const args: string[] = [];
  const give = (name: string, value: string | number | undefined): void => {
    if (value !== undefined) args.push(`--${name}`, String(value));
  };
  give('port', wishes.port);
  give('site', wishes.site);
  give('connections', wishes.connections);
  give('window', wishes.window);
  give('seconds', wishes.messages === undefined ? wishes.seconds : 3600);
  give('warmup-seconds', wishes.messages === undefined ? wishes.warmupSeconds : undefined);
  give('idle', wishes.idle);
  give('per-second', wishes.perSecond);
  give('messages', wishes.messages);
  give('step-ms', wishes.stepMs);
  give('behind-ms', wishes.behindMs);
  give('drive-states', wishes.driveStates === true ? 1 : 0);
  const done = await runToEnd(program, args);
  if (done.code !== 0) throw new Error(`the load generator ended with ${done.code}: ${done.err}`);
  return JSON.parse(done.out) as LoadReport;
}
