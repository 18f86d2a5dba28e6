/** The real program as the demo uses it: other processes, nothing shared but files, MQTT and HTTP. */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const PROGRAM = fileURLToPath(new URL('../../src/main.js', import.meta.url));
const START_MS_MOST = 20_000;
const STOP_MS_MOST = 10_000;

export interface Finished {
  readonly code: number;
  readonly out: string;
  readonly err: string;
}

/** Runs `tallypost` to its end and returns what it said. */
export async function runProgram(args: readonly string[]): Promise<Finished> {
  const child = spawn(process.execPath, [PROGRAM, ...args], { stdio: ['ignore', 'pipe', 'pipe'] });
  let out = '';
  let err = '';
  child.stdout.on('data', (piece: Buffer) => (out += piece.toString()));
  child.stderr.on('data', (piece: Buffer) => (err += piece.toString()));
  const [code] = (await once(child, 'close')) as [number | null];
  return { code: code ?? -1, out, err };
}

/** As `runProgram`, but anything other than success ends the demo with what the program said. */
export async function runToSuccess(args: readonly string[]): Promise<string> {
  const { code, out, err } = await runProgram(args);
  if (code !== 0) throw new Error(`"tallypost ${args.join(' ')}" ended with ${code}:\n${err}`);
  return out;
}

export interface GatewayProcess {
  /** `http://127.0.0.1:PORT` */
  readonly http: string;
  /** `mqtt://127.0.0.1:PORT` */
  readonly mqtt: string;
  stop(): Promise<void>;
}

interface GatewayFile {
  readonly pid: number;
  readonly http: string;
  readonly mqtt: string;
}

function readGatewayFile(dataDir: string): GatewayFile | null {
  const path = join(dataDir, 'gateway.json');
  return existsSync(path) ? (JSON.parse(readFileSync(path, 'utf8')) as GatewayFile) : null;
}

/** Starts `tallypost run` on free loopback ports and waits until it says that it is ready. */
export async function startGatewayProcess(station: {
  config: string;
  dataDir: string;
}): Promise<GatewayProcess> {
  const args = ['run', '--config', station.config, '--data', station.dataDir];
  const child = spawn(
    process.execPath,
    [PROGRAM, ...args, '--mqtt', '127.0.0.1:0', '--http', '127.0.0.1:0'],
    {
      stdio: ['ignore', 'ignore', 'pipe'],
      detached: true,
    }, // Ctrl-C is for the demo, which stops the gateway in good order
  );
  process.once('exit', () => child.kill('SIGTERM'));
  let log = '';
  child.stderr.on('data', (piece: Buffer) => (log = (log + piece.toString()).slice(-20_000)));
  const due = Date.now() + START_MS_MOST;
  while (Date.now() < due) {
    if (child.exitCode !== null) throw new Error(`The gateway ended at its start:\n${log}`);
    const file = readGatewayFile(station.dataDir);
    if (file !== null && file.pid === child.pid && (await isReady(file.http))) {
      return { http: file.http, mqtt: file.mqtt, stop: () => stopProcess(child) };
    }
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  child.kill('SIGKILL');
  throw new Error(`The gateway was not ready within ${START_MS_MOST / 1000} s:\n${log}`);
}

async function isReady(http: string): Promise<boolean> {
  try {
    return (await fetch(`${http}/ready`)).ok;
  } catch {
    return false;
  }
}

async function stopProcess(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  const ended = once(child, 'exit');
  child.kill('SIGTERM');
  const timer = setTimeout(() => child.kill('SIGKILL'), STOP_MS_MOST);
  await ended;
  clearTimeout(timer);
}
