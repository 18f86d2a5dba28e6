/** The gateway as a process of its own, as a site runs it, for tests that load it, kill it or throw rubbish at it. */
import { builtFile } from './repository.js';
import { freePort, runToEnd, sleep, startChild, stopChild, type Child, type Finished } from './child.js';

export interface GatewayProcess {
  readonly child: Child;
  readonly mqttPort: number;
  readonly httpPort: number;
  /** the address of the HTTP interface, without a slash at the end */
  readonly http: string;
  stop(): Promise<void>;
}

export interface GatewayWishes {
  readonly configFile: string;
  readonly dataDir: string;
  /** built entry that takes the arguments of `tallypost run`; absent: the program itself */
  readonly entry?: string;
  readonly env?: NodeJS.ProcessEnv;
  /** ports to take again after a restart */
  readonly ports?: { mqtt: number; http: number };
  readonly patienceMs?: number;
}

/** Starts it and waits until it answers. Throws with what it said when it ends or stays silent. */
export async function startGatewayProcess(wishes: GatewayWishes): Promise<GatewayProcess> {
  const mqttPort = wishes.ports?.mqtt ?? (await freePort());
  const httpPort = wishes.ports?.http ?? (await freePort());
  const options = ['--config', wishes.configFile, '--data', wishes.dataDir];
  const listen = ['--mqtt', `127.0.0.1:${mqttPort}`, '--http', `127.0.0.1:${httpPort}`];
  const entry = wishes.entry === undefined ? [builtFile('src/main.js'), 'run'] : [builtFile(wishes.entry)];
  const child = startChild(process.execPath, [...entry, ...options, ...listen], wishes.env);
  const http = `http://127.0.0.1:${httpPort}`;
  await waitUntilLive(child, http, wishes.patienceMs ?? 30_000);
  return { child, mqttPort, httpPort, http, stop: () => stopChild(child) };
}

async function waitUntilLive(child: Child, http: string, patienceMs: number): Promise<void> {
  const end = Date.now() + patienceMs;
  while (Date.now() < end) {
    if (!child.isAlive()) {
      await child.ended;
      throw new Error(`the gateway ended while it started:\n${child.said()}`);
    }
    try {
      const answer = await fetch(`${http}/live`, { signal: AbortSignal.timeout(2_000) });
      await answer.arrayBuffer();
      if (answer.ok) return;
    } catch {
      // not listening yet
    }
    await sleep(20);
  }
  await stopChild(child, 1_000);
  throw new Error(`the gateway did not answer on ${http}/live within ${patienceMs} ms:\n${child.said()}`);
}

/** Runs one command of the program to its end, for example `ledger --data DIR`. */
export function runTallypost(args: readonly string[]): Promise<Finished> {
  return runToEnd(process.execPath, [builtFile('src/main.js'), ...args]);
}
