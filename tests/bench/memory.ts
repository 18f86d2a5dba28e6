/**
 * Resident memory of the gateway with a fleet connected: while it reports as usual, and while a day is looked at again
 * because late drive states arrived for it.
 */
import { join } from 'node:path';
import mqtt from 'mqtt';
import { readMemory, sleep } from '../support/child.js';
import { startGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';
import { motorName, type FleetWishes } from './fleet.js';
import { runLoad } from './load.js';
import { writePlantFile } from './plant-file.js';
import { measureReplay, type ReplayResult } from './replay.js';

const SITE = 'bench';

export interface LiveMemory {
  readonly sensors: number;
  readonly seconds: number;
  readonly samples: readonly number[];
  readonly highest: number;
}

/** A new gateway, every sensor connected and sending at its interval. */
export async function measureLiveMemory(
  folder: string,
  program: string,
  wishes: { sensors: number; intervalMs: number; seconds: number },
): Promise<LiveMemory> {
  const { sensors, intervalMs, seconds } = wishes;
  const configFile = writePlantFile(folder, { site: SITE, motors: sensors, intervalMs });
  const gateway = await startGatewayProcess({ configFile, dataDir: join(folder, 'data') });
  try {
    const load = runLoad(program, {
      port: gateway.mqttPort,
      site: SITE,
      connections: sensors,
      window: 1,
      seconds,
      perSecond: (sensors * 1000) / intervalMs,
      driveStates: true,
    });
    const samples = await sampleWhile(gateway, load);
    const highest = readMemory(gateway.child.pid)?.highest ?? Math.max(...samples);
    return { sensors, seconds, samples, highest };
  } finally {
    await gateway.stop();
  }
}

export interface RegateMemory {
  readonly replay: ReplayResult;
  /** before the late states, and the highest while they were worked off */
  readonly before: number;
  readonly highest: number;
}

/** A fleet's recent day from a capture, then the gateway on it, then for every motor a stop of a minute in each hour of that day. */
export async function measureRegateMemory(
  folder: string,
  wishes: Omit<FleetWishes, 'startAt'>,
  watchMs: number,
): Promise<RegateMemory> {
  const startAt = Math.floor((Date.now() - wishes.durationMs) / 10_000) * 10_000;
  const replay = await measureReplay(folder, { ...wishes, startAt }, 500);
  const gateway = await startGatewayProcess({
    configFile: join(folder, 'bench.yaml'),
    dataDir: join(folder, 'data'),
  });
  try {
    await sleep(1_000);
    const before = readMemory(gateway.child.pid)?.now ?? 0;
    const sent = sendLateStates(gateway, { ...wishes, startAt });
    const samples = await sampleWhile(gateway, Promise.all([sent, sleep(watchMs)]));
    return { replay, before, highest: Math.max(before, ...samples) };
  } finally {
    await gateway.stop();
  }
}

async function sendLateStates(gateway: GatewayProcess, wishes: FleetWishes): Promise<void> {
  const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${gateway.mqttPort}`, { clientId: 'late-drives' });
  for (let hour = 0; hour * 3_600_000 < wishes.durationMs; hour++) {
    const all: Promise<unknown>[] = [];
    for (let index = 0; index < wishes.sensors; index++) {
      const at = wishes.startAt + hour * 3_600_000 + 600_000;
      for (const [state, since] of [
        ['stopped', at],
        ['running', at + 60_000],
      ] as const) {
        const topic = `${SITE}/in/${motorName(index)}/drive/state`;
        all.push(client.publishAsync(topic, JSON.stringify({ state, at: since, since }), { qos: 1 }));
      }
    }
    await Promise.all(all);
  }
  await client.endAsync();
}

/** Resident memory each second until `work` is done; throws when the gateway dies meanwhile. */
async function sampleWhile(gateway: GatewayProcess, work: Promise<unknown>): Promise<number[]> {
  const samples: number[] = [];
  let isOver = false;
  const done = work.finally(() => {
    isOver = true;
  });
  while (!isOver) {
    const sample = readMemory(gateway.child.pid);
    if (sample !== null) samples.push(sample.now);
    if (!gateway.child.isAlive()) throw new Error(`the gateway ended:\n${gateway.child.said()}`);
    await Promise.race([sleep(1_000), done]);
  }
  await done;
  return samples;
}
