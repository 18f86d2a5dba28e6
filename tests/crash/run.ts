/**
 * The gateway under QoS 1 load, killed with SIGKILL again and again, at random moments of its work and of its start.
 * Publishers resend what was not acknowledged. Afterwards everything acknowledged must be there, once.
 */
import { join } from 'node:path';
import { freePort, sleep } from '../support/child.js';
import { launchGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';
import { seedRandom } from '../support/seeded-random.js';
import { acknowledgeAlarm, readAlarm, waitForAlarm, type AlarmMemory } from './alarm-watch.js';
import { provokeAlarm, SITE, writeCrashPlant } from './plant.js';
import { Publisher } from './publisher.js';
import { judgeFiles, judgeJournal, judgeLedger, judgeReadings } from './verdict.js';

export interface CrashWishes {
  readonly folder: string;
  readonly kills: number;
  readonly seed: number;
  /** load per motor: readings on their way, and least time between two of them */
  readonly window: number;
  readonly paceMs: number;
  readonly tell: (line: string) => void;
}

export interface CrashReport {
  readonly kills: number;
  /** how many of them fell into the start of the process */
  readonly killsWhileStarting: number;
  readonly acknowledged: number;
  readonly reconnects: number;
  readonly findings: readonly string[];
}

const MOTORS = ['m1', 'm2', 'm3', 'm4', 'm5', 'm6'] as const;
const SHARE_WHILE_STARTING = 0.15;
const UP_MS_MAX = 400;
const PATIENCE_MS = 30_000;

interface Crashing {
  readonly wishes: CrashWishes;
  readonly random: () => number;
  launch(): Promise<GatewayProcess>;
}

export async function runCrashes(wishes: CrashWishes): Promise<CrashReport> {
  const dataDir = join(wishes.folder, 'data');
  const configFile = writeCrashPlant(wishes.folder, MOTORS);
  const ports = { mqtt: await freePort(), http: await freePort() };
  const launch = (): Promise<GatewayProcess> => launchGatewayProcess({ configFile, dataDir, ports });
  const crashing: Crashing = { wishes, random: seedRandom(wishes.seed), launch };

  await provokeAlarm(wishes.folder, configFile, dataDir);
  let gateway = await launch();
  await gateway.untilLive();
  const publishers = MOTORS.map(
    (motor, i) =>
      new Publisher({
        site: SITE,
        motor,
        port: ports.mqtt,
        window: wishes.window,
        paceMs: wishes.paceMs,
        echo: i % 2 === 0 ? 0 : 5,
      }),
  );
  const findings: string[] = [];
  let killsWhileStarting = 0;
  try {
    await waitForAlarm(gateway.http, 'unacknowledged', PATIENCE_MS);
    await acknowledgeAlarm(gateway.http, 'A. Operator', 'crash run');
    const alarm = await waitForAlarm(gateway.http, 'acknowledged', PATIENCE_MS);
    for (let kill = 1; kill <= wishes.kills; kill++) {
      const crashed = await crashOnce(crashing, gateway);
      gateway = crashed.gateway;
      if (crashed.whileStarting) killsWhileStarting += 1;
      findings.push(...(await compareAlarm(gateway, alarm, kill)));
      if (kill % 10 === 0)
        wishes.tell(`${kill} kills, ${sum(publishers.map((p) => p.acked))} readings acknowledged`);
    }
    for (const publisher of publishers) await publisher.finish(PATIENCE_MS);
    await gateway.stop();
  } catch (error) {
    throw new Error(`the gateway said last:\n${gateway.child.said().slice(-4_000)}`, { cause: error });
  } finally {
    for (const publisher of publishers) publisher.close();
    gateway.child.process.kill('SIGKILL');
  }
  findings.push(...judgeFiles(dataDir), ...(await judgeLedger(dataDir)));
  findings.push(...(await judgeReadings(dataDir, publishers)), ...(await judgeJournal(dataDir)));
  for (const { sensor, disorders } of publishers) {
    if (disorders > 0) findings.push(`${sensor}: ${disorders} acknowledgements out of order`);
  }
  return {
    kills: wishes.kills,
    killsWhileStarting,
    acknowledged: sum(publishers.map((p) => p.acked)),
    reconnects: sum(publishers.map((p) => p.reconnects)),
    findings,
  };
}

/** Kills a gateway that works, and sometimes the next one while it starts; returns one that answers. */
async function crashOnce(
  crashing: Crashing,
  gateway: GatewayProcess,
): Promise<{ gateway: GatewayProcess; whileStarting: boolean }> {
  const { random } = crashing;
  const whileStarting = random() < SHARE_WHILE_STARTING;
  if (!whileStarting) await sleep(random() * UP_MS_MAX);
  await killHard(gateway);
  let next = await crashing.launch();
  if (whileStarting) {
    await sleep(random() * UP_MS_MAX);
    await killHard(next);
    next = await crashing.launch();
  }
  await next.untilLive();
  return { gateway: next, whileStarting };
}

async function killHard(gateway: GatewayProcess): Promise<void> {
  if (!gateway.child.isAlive()) throw new Error(`the gateway ended by itself:\n${gateway.child.said()}`);
  gateway.child.process.kill('SIGKILL');
  await gateway.child.ended;
}

async function compareAlarm(gateway: GatewayProcess, before: AlarmMemory, kill: number): Promise<string[]> {
  const after = await readAlarm(gateway.http);
  const [then, now] = [JSON.stringify(before), JSON.stringify(after)];
  return then === now ? [] : [`after kill ${kill} the alarm was ${now} instead of ${then}`];
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}
