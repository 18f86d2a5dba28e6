/** A mosquitto of its own on a port of 127.0.0.1, and what passes through it, byte for byte. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type IClientOptions, type MqttClient } from 'mqtt';
import { freePort, sleep, startChild, stopChild, type Child } from './child.js';

export const WITHOUT_MOSQUITTO =
  'left out: mosquitto is not installed (apt-get install mosquitto), so nothing was tried against a real broker';

export function hasMosquitto(): boolean {
  try {
    execFileSync('sh', ['-c', 'PATH=$PATH:/usr/sbin:/sbin; command -v mosquitto'], { stdio: 'pipe' });
    return true;
  } catch {
    return false;
  }
}

export interface MosquittoBroker {
  readonly port: number;
  readonly url: string;
  kill(): Promise<void>;
  start(): Promise<void>;
  stop(): Promise<void>;
}

export async function startMosquitto(lines: readonly string[] = []): Promise<MosquittoBroker> {
  const port = await freePort();
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-mosquitto-'));
  const file = join(folder, 'mosquitto.conf');
  const settings = [`listener ${port} 127.0.0.1`, 'allow_anonymous true', 'max_queued_messages 0', ...lines];
  writeFileSync(file, `${settings.join('\n')}\n`);
  let child: Child | null = null;
  const path = { PATH: `${process.env['PATH'] ?? ''}:/usr/sbin:/sbin` };
  const start = async (): Promise<void> => {
    child = startChild('mosquitto', ['-c', file], path);
    for (let i = 0; i < 100; i++) {
      try {
        await (await connectAsync(`mqtt://127.0.0.1:${port}`, { reconnectPeriod: 0 }, false)).endAsync(true);
        return;
      } catch {
        if (!child.isAlive()) throw new Error(`mosquitto ended: ${child.said()}`);
        await sleep(50);
      }
    }
    throw new Error('mosquitto did not answer within 5 s');
  };
  const kill = async (): Promise<void> => {
    child?.process.kill('SIGKILL');
    await child?.ended;
  };
  await start();
  return {
    ...{ port, url: `mqtt://127.0.0.1:${port}`, kill, start },
    stop: async () => {
      if (child !== null) await stopChild(child);
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

export interface Heard {
  readonly topic: string;
  readonly payload: Buffer;
  readonly qos: number;
  readonly retain: boolean;
}

export interface Listener {
  readonly heard: Heard[];
  readonly client: MqttClient;
  /** the first message that fits, which may have come already; fails after five seconds */
  expect(what: string, fits: (message: Heard) => boolean): Promise<Heard>;
  close(): Promise<void>;
}

/** Hears everything below `filter` from now on. */
export async function listenTo(
  url: string,
  filters: readonly string[],
  options: IClientOptions = {},
): Promise<Listener> {
  const client = await connectAsync(url, { ...options, reconnectPeriod: 0 }, false);
  const heard: Heard[] = [];
  client.on('message', (topic, payload, { qos, retain }) =>
    heard.push({ topic, payload: Buffer.from(payload), qos, retain }),
  );
  client.on('error', () => undefined);
  await client.subscribeAsync([...filters], { qos: 1 });
  return {
    ...{ heard, client },
    expect: async (what, fits) => {
      for (let i = 0; i < 250; i++) {
        const found = heard.find(fits);
        if (found !== undefined) return found;
        await sleep(20);
      }
      throw new Error(`not heard within 5 s: ${what}; heard ${heard.map(({ topic }) => topic).join(', ')}`);
    },
    close: async () => {
      await client.endAsync(true);
    },
  };
}
