/** A server process for PLC or HMI, started as the gateway starts it, with a test in the gateway's place. */
import { fork, type ChildProcess } from 'node:child_process';
import type { News } from '../../src/plc/news.js';
import type { FromServer } from '../../src/plc/server-protocol.js';
import { builtFile } from '../support/repository.js';
import { newsOf, REVISION } from './small-plant.js';

export interface Served {
  readonly port: number;
  readonly child: ChildProcess;
  /** what it asked the gateway */
  readonly asked: unknown[];
  /** what it had to say to the log after it began to listen */
  readonly said: string[];
  /** resolves when it is taken */
  beat(part?: Partial<News>, isReady?: boolean, clockOffsetMs?: number): Promise<void>;
  stop(): Promise<void>;
}

const PATIENCE_MS = 60_000;

/** `answer`: what the gateway says to a question of the process; throws a sentence to refuse it. */
export async function serve(
  program: string,
  settings: unknown,
  answer: (wish: unknown) => unknown = () => null,
): Promise<Served> {
  const child = fork(builtFile(program), [], { execArgv: [], stdio: ['ignore', 'ignore', 'inherit', 'ipc'] });
  const heard: FromServer[] = [];
  const asked: unknown[] = [];
  const said: string[] = [];
  child.on('message', (message) => {
    const one = message as FromServer;
    heard.push(one);
    if (one.kind === 'said') said.push(one.text);
    if (one.kind !== 'ask') return;
    asked.push(one.wish);
    let [value, fault]: [unknown, string | null] = [null, null];
    try {
      value = answer(one.wish);
    } catch (error) {
      fault = String(error);
    }
    child.send({ kind: 'answer', id: one.id, value, fault });
  });
  const until = (isMeant: (message: FromServer) => boolean, what: string): Promise<FromServer> =>
    new Promise((resolve, reject) => {
      const stop = (): void => {
        clearTimeout(timer);
        child.off('message', hear);
        child.off('exit', end);
      };
      const end = (): void => (
        stop(),
        reject(new Error(`it ended before ${what}: ${JSON.stringify(heard)}`))
      );
      const timer = setTimeout(end, PATIENCE_MS);
      const hear = (message: unknown): void => {
        if (!isMeant(message as FromServer)) return;
        stop();
        resolve(message as FromServer);
      };
      child.on('message', hear);
      child.once('exit', end);
    });
  const listening = until(({ kind }) => kind === 'listening', 'it listened');
  child.send({ kind: 'start', settings });
  const { port } = (await listening) as Extract<FromServer, { kind: 'listening' }>;
  let id = 0;
  return {
    ...{ port, child, asked, said },
    beat: async (part = {}, isReady = true, clockOffsetMs = 0) => {
      const mine = ++id;
      const taken = until((message) => message.kind === 'taken' && message.id === mine, 'the beat was taken');
      const what = { kind: 'beat', id: mine, isReady, isLoaded: true, revision: REVISION };
      child.send({ ...what, clockOffsetMs, news: newsOf(part) });
      await taken;
    },
    stop: () =>
      new Promise((resolve) => {
        if (child.exitCode !== null || child.signalCode !== null) return resolve();
        child.once('exit', () => resolve());
        if (child.connected) child.disconnect();
        else child.kill('SIGKILL');
      }),
  };
}
