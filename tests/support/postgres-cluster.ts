/** A PostgreSQL server of its own in a temporary directory, with the programs that the system has. */
import { execFileSync, spawn, type ChildProcess } from 'node:child_process';
import {
  chmodSync,
  chownSync,
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Client } from 'pg';
import { freePort, sleep } from './child.js';

/** Where initdb and postgres are; null: PostgreSQL is not installed. */
export function findPostgres(): string | null {
  const root = '/usr/lib/postgresql';
  const versions = existsSync(root) ? readdirSync(root).sort((a, b) => Number(b) - Number(a)) : [];
  const found = versions
    .map((version) => join(root, version, 'bin'))
    .find((bin) => existsSync(join(bin, 'initdb')) && existsSync(join(bin, 'postgres')));
  return found ?? null;
}

export const WITHOUT_POSTGRES =
  'left out: PostgreSQL is not installed (apt-get install postgresql), so nothing was tried against a real server';

export interface Cluster {
  readonly port: number;
  readonly folder: string;
  /** kill -9 of the server and all its processes; `start` recovers it */
  kill(): Promise<void>;
  start(): Promise<void>;
  /** ends it and removes its files */
  remove(): Promise<void>;
  /** a connection as the superuser, to look at what is there */
  connect(): Promise<Client>;
}

interface ClusterOptions {
  /** lines of postgresql.conf */
  readonly settings?: readonly string[];
  /** lines of pg_hba.conf; absent: everybody is trusted */
  readonly logins?: readonly string[];
  /** by name, into its folder, readable by the server alone */
  readonly files?: Readonly<Record<string, string>>;
  /** of 0 to 19 */
  readonly niceness?: number;
}

export const SUPERUSER = 'postgres';

/** The server refuses to run as root: there it runs as the user that its package made. */
function readOwner(): { uid: number; gid: number } | null {
  if (process.getuid?.() !== 0) return null;
  const id = (flag: string): number => Number(execFileSync('id', [flag, 'postgres'], { encoding: 'utf8' }));
  return { uid: id('-u'), gid: id('-g') };
}

/** Its processes, each of which leads a session of its own; Linux only. */
function readChildren(pid: number): number[] {
  const text = readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8').trim();
  return text === '' ? [] : text.split(' ').map(Number);
}

export async function startCluster(bin: string, options: ClusterOptions = {}): Promise<Cluster> {
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-pg-'));
  const owner = readOwner();
  const data = join(folder, 'data');
  const port = await freePort();
  chmodSync(folder, 0o755);
  if (owner !== null) chownSync(folder, owner.uid, owner.gid);
  const as = { ...(owner ?? {}), cwd: folder, env: { PATH: process.env['PATH'] ?? '', LC_ALL: 'C.UTF-8' } };
  const args = ['-D', data, '-U', SUPERUSER, '--auth=trust', '--no-sync', '-E', 'UTF8'];
  execFileSync(join(bin, 'initdb'), args, { ...as, stdio: 'pipe' });
  const settings = [
    `port = ${port}`,
    `listen_addresses = '127.0.0.1'`,
    `unix_socket_directories = '${folder}'`,
    ...(options.settings ?? []),
  ];
  writeFileSync(join(data, 'postgresql.auto.conf'), `${settings.join('\n')}\n`);
  if (options.logins !== undefined)
    writeFileSync(join(data, 'pg_hba.conf'), `${options.logins.join('\n')}\n`);
  for (const [name, text] of Object.entries(options.files ?? {})) {
    writeFileSync(join(data, name), text, { mode: 0o600 });
    if (owner !== null) chownSync(join(data, name), owner.uid, owner.gid);
  }
  let server: ChildProcess | null = null;
  const connect = async (): Promise<Client> => {
    const client = new Client({ host: folder, port, user: SUPERUSER, database: 'postgres' });
    client.on('error', () => undefined); // it is killed under us
    await client.connect();
    return client;
  };
  const start = async (): Promise<void> => {
    const niceness = String(options.niceness ?? 0);
    // `nice` becomes the server, under its process id
    const child = spawn('nice', ['-n', niceness, join(bin, 'postgres'), '-D', data], {
      ...as,
      stdio: 'ignore',
    });
    server = child;
    for (let i = 0; i < 300; i++) {
      try {
        await (await connect()).end();
        return;
      } catch (error) {
        if (child.exitCode !== null)
          throw new Error(`postgres ended with ${child.exitCode}`, { cause: error });
        await sleep(100);
      }
    }
    throw new Error('postgres did not answer within 30 s');
  };
  const kill = async (): Promise<void> => {
    const child = server;
    if (child?.pid === undefined || child.exitCode !== null || child.signalCode !== null) return;
    const gone = new Promise((resolve) => child.once('close', resolve));
    const family = [child.pid, ...readChildren(child.pid)];
    for (const pid of family) process.kill(pid, 'SIGKILL');
    await gone;
    await sleep(50);
  };
  const remove = async (): Promise<void> => {
    await kill();
    rmSync(folder, { recursive: true, force: true, maxRetries: 5, retryDelay: 100 });
  };
  await start();
  return { port, folder, kill, start, remove, connect };
}
