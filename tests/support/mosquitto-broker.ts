/** Debian's broker as a process of its own. It must be installed (`apt-get install mosquitto`). */
import { spawnSync } from 'node:child_process';
import { mkdirSync, writeFileSync } from 'node:fs';
import { createConnection } from 'node:net';
import { join } from 'node:path';
import { sleep, startChild, stopChild, type Child } from './child.js';

export const hasMosquitto = spawnSync('mosquitto', ['-h']).error === undefined;

export interface MosquittoWishes {
  readonly folder: string;
  readonly port: number;
  /** lines of its configuration besides ours, such as certificates */
  readonly lines?: readonly string[];
  /** of 0 to 19 */
  readonly niceness?: number;
  /** true, and absent: what it holds for sessions is on the disk at once, which is slow; false: within a second */
  readonly savesEachChange?: boolean;
}

export interface Mosquitto {
  start(): Promise<void>;
  kill(): Promise<void>;
  stop(): Promise<void>;
}

export function makeMosquitto(wishes: MosquittoWishes): Mosquitto {
  const { folder, port, lines = [], niceness = 0, savesEachChange = true } = wishes;
  mkdirSync(folder, { recursive: true });
  const file = join(folder, 'mosquitto.conf');
  const text = [
    ...['user root', `listener ${port} 127.0.0.1`, 'allow_anonymous true'],
    // what comes is written to the subscriber's socket before its PUBACK goes out, however much is on its way
    ...['max_inflight_messages 0', 'max_queued_messages 0'],
    ...[
      'persistence true',
      `persistence_location ${folder}/`,
      `autosave_on_changes ${savesEachChange}`,
      'autosave_interval 1',
    ],
    ...lines,
  ];
  writeFileSync(file, `${text.join('\n')}\n`);
  let child: Child | null = null;
  return {
    start: async () => {
      child = startChild('nice', ['-n', String(niceness), 'mosquitto', '-c', file]);
      await untilListening(port, child);
    },
    kill: async () => {
      child?.process.kill('SIGKILL');
      await child?.ended;
    },
    stop: async () => {
      if (child !== null) await stopChild(child);
    },
  };
}

/** Until something listens on a port of this machine. Throws when the child that should is gone, or after a while. */
export async function untilListening(port: number, child: Child, patienceMs = 15_000): Promise<void> {
  for (const end = Date.now() + patienceMs; Date.now() < end;) {
    if (!child.isAlive()) throw new Error(`it ended:\n${child.said()}`);
    const isThere = await new Promise<boolean>((resolve) => {
      const socket = createConnection({ port, host: '127.0.0.1' });
      socket.once('connect', () => {
        socket.destroy();
        resolve(true);
      });
      socket.once('error', () => resolve(false));
    });
    if (isThere) return;
    await sleep(30);
  }
  throw new Error(`nothing listens on ${port}:\n${child.said()}`);
}
