/** Debian's MQTT clients. They must be installed (`apt-get install mosquitto-clients`); a missing one fails the test. */
import { spawn, type ChildProcessWithoutNullStreams } from 'node:child_process';

export interface Done {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
}

function start(program: string, args: readonly string[]): ChildProcessWithoutNullStreams {
  return spawn(program, args, { stdio: 'pipe' });
}

function collect(child: ChildProcessWithoutNullStreams, program: string): Promise<Done> {
  return new Promise((resolve, reject) => {
    let out = '';
    let err = '';
    child.stdout.on('data', (chunk: Buffer) => (out += chunk.toString()));
    child.stderr.on('data', (chunk: Buffer) => (err += chunk.toString()));
    child.once('error', (error) =>
      reject(
        new Error(`${program} could not be started (${error.message}): apt-get install mosquitto-clients`),
      ),
    );
    child.once('close', (code) => resolve({ code, out, err }));
  });
}

/** `mosquitto_pub` to its end. */
export function publish(port: number, args: readonly string[], input?: string): Promise<Done> {
  const child = start('mosquitto_pub', ['-h', '127.0.0.1', '-p', String(port), ...args]);
  if (input !== undefined) child.stdin.end(input);
  return collect(child, 'mosquitto_pub');
}

export interface Running {
  readonly lines: string[];
  readonly done: Promise<Done>;
  stop(signal?: NodeJS.Signals): Promise<Done>;
}

/** `mosquitto_sub -v`, or `mosquitto_pub -l` waiting for lines, until it is stopped. */
export function run(
  program: 'mosquitto_sub' | 'mosquitto_pub',
  port: number,
  args: readonly string[],
): Running {
  const child = start(program, ['-h', '127.0.0.1', '-p', String(port), ...args]);
  const lines: string[] = [];
  let rest = '';
  child.stdout.on('data', (chunk: Buffer) => {
    const pieces = (rest + chunk.toString()).split('\n');
    rest = pieces.pop() ?? '';
    lines.push(...pieces);
  });
  const done = collect(child, program);
  return {
    lines,
    done,
    stop: (signal = 'SIGTERM') => {
      child.kill(signal);
      return done;
    },
  };
}
