/** Child processes of the long tests: started, listened to, ended, with what they said last. */
import { spawn, type ChildProcess } from 'node:child_process';
import { createServer, type AddressInfo } from 'node:net';
import { readFileSync } from 'node:fs';

const SAID_MAX = 16_000;

/** A running process. `said` is the end of what it wrote to both outputs. */
export interface Child {
  readonly pid: number;
  readonly process: ChildProcess;
  said(): string;
  /** resolves when it is gone: exit code, or null after a signal */
  readonly ended: Promise<{ code: number | null; signal: NodeJS.Signals | null }>;
  isAlive(): boolean;
}

/** Starts `node FILE ARGUMENTS`, or another program. */
export function startChild(program: string, args: readonly string[], env: NodeJS.ProcessEnv = {}): Child {
  const child = spawn(program, args, { stdio: ['ignore', 'pipe', 'pipe'], env: { ...process.env, ...env } });
  let text = '';
  const hear = (chunk: Buffer): void => {
    text = (text + chunk.toString('utf8')).slice(-SAID_MAX);
  };
  child.stdout.on('data', hear);
  child.stderr.on('data', hear);
  const ended = new Promise<{ code: number | null; signal: NodeJS.Signals | null }>((resolve) => {
    child.once('error', (error) => {
      text += String(error);
      resolve({ code: 127, signal: null });
    });
    child.once('close', (code, signal) => resolve({ code, signal }));
  });
  return {
    pid: child.pid ?? -1,
    process: child,
    said: () => text,
    ended,
    isAlive: () => child.exitCode === null && child.signalCode === null && child.pid !== undefined,
  };
}

/** Asks it to stop, and kills it when it has not done so in time. */
export async function stopChild(child: Child, patienceMs = 10_000): Promise<void> {
  if (!child.isAlive()) return;
  child.process.kill('SIGTERM');
  const timer = setTimeout(() => child.process.kill('SIGKILL'), patienceMs);
  await child.ended;
  clearTimeout(timer);
}

export interface Finished {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
}

/** Runs a program to its end and collects everything it writes. */
export async function runToEnd(
  program: string,
  args: readonly string[],
  env: NodeJS.ProcessEnv = {},
): Promise<Finished> {
  const child = spawn(program, args, { stdio: ['ignore', 'pipe', 'pipe'], env: { ...process.env, ...env } });
  const out: Buffer[] = [];
  const err: Buffer[] = [];
  child.stdout.on('data', (chunk: Buffer) => out.push(chunk));
  child.stderr.on('data', (chunk: Buffer) => err.push(chunk));
  const code = await new Promise<number | null>((resolve) => {
    child.once('error', (error) => {
      err.push(Buffer.from(String(error)));
      resolve(127);
    });
    child.once('close', resolve);
  });
  return { code, out: Buffer.concat(out).toString('utf8'), err: Buffer.concat(err).toString('utf8') };
}

/** A port that nobody listens on at this moment. */
export async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}

export function sleep(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

/** Resident memory of a process in bytes, now and at its highest; Linux only, null elsewhere or when it is gone. */
export function readMemory(pid: number): { now: number; highest: number } | null {
  try {
    const status = readFileSync(`/proc/${pid}/status`, 'utf8');
    const kilobytes = (name: string): number =>
      Number(new RegExp(`^${name}:\\s+(\\d+) kB`, 'm').exec(status)?.[1] ?? 0);
    return { now: kilobytes('VmRSS') * 1024, highest: kilobytes('VmHWM') * 1024 };
  } catch {
    return null;
  }
}

/** Seconds of processor time that a process has used, all its threads together; null where it cannot be read. */
export function readCpuSeconds(pid: number): number | null {
  try {
    const fields = readFileSync(`/proc/${pid}/stat`, 'utf8')
      .replace(/^.*\) /, '')
      .split(' ');
    return (Number(fields[11]) + Number(fields[12])) / 100;
  } catch {
    return null;
  }
}
