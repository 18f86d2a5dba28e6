/** The gateway as a process of its own, as a site runs it, for tests that load it, kill it or throw rubbish at it. */
import { pathToFileURL } from 'node:url';
import { builtFile } from './repository.js';
import { freePort, runToEnd, sleep, startChild, stopChild, type Child, type Finished } from './child.js';

export interface GatewayProcess {
  readonly child: Child;
  readonly mqttPort: number;
  readonly httpPort: number;
  /** the address of the HTTP interface, without a slash at the end */
  readonly http: string;
  /** resolves when it answers; throws with what it said when it ends or stays silent */
  untilLive(patienceMs?: number): Promise<void>;
  stop(): Promise<void>;
}

export interface GatewayWishes {
  readonly configFile: string;
  readonly dataDir: string;
  /** built file that is loaded into the process first, in every thread */
  readonly preload?: string;
  readonly env?: NodeJS.ProcessEnv;
  /** ports to take again after a restart; absent: free ones */
  readonly ports?: { readonly mqtt: number; readonly http: number };
}

/** Starts it and does not wait. */
export async function launchGatewayProcess(wishes: GatewayWishes): Promise<GatewayProcess> {
  const mqttPort = wishes.ports?.mqtt ?? (await freePort());
  const httpPort = wishes.ports?.http ?? (await freePort());
  const preload =
    wishes.preload === undefined ? [] : ['--import', pathToFileURL(builtFile(wishes.preload)).href];
  const options = ['--config', wishes.configFile, '--data', wishes.dataDir];
  const listen = ['--mqtt', `127.0.0.1:${mqttPort}`, '--http', `127.0.0.1:${httpPort}`];
  const args = [...preload, builtFile('src/main.js'), 'run', ...options, ...listen];
  const child = startChild(process.execPath, args, wishes.env);
  const http = `http://127.0.0.1:${httpPort}`;
  const untilLive = (patienceMs = 30_000): Promise<void> => waitUntilLive(child, http, patienceMs);
  return { child, mqttPort, httpPort, http, untilLive, stop: () => stopChild(child) };
}

/** Starts it and waits until it answers. */
export async function startGatewayProcess(wishes: GatewayWishes): Promise<GatewayProcess> {
  const gateway = await launchGatewayProcess(wishes);
  try {
    await gateway.untilLive();
  } catch (error) {
    gateway.child.process.kill('SIGKILL');
    throw error;
  }
  return gateway;
}

async function waitUntilLive(child: Child, http: string, patienceMs: number): Promise<void> {
  const end = Date.now() + patienceMs;
  while (Date.now() < end) {
    if (!child.isAlive()) {
      await child.ended;
      throw new Error(`the gateway ended before it answered:\n${child.said()}`);
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
  throw new Error(`the gateway did not answer on ${http}/live within ${patienceMs} ms:\n${child.said()}`);
}

/** Runs one command of the program to its end, for example `ledger --data DIR`. */
export function runTallypost(args: readonly string[]): Promise<Finished> {
  return runToEnd(process.execPath, [builtFile('src/main.js'), ...args]);
}
