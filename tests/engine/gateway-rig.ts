/** A gateway in this process on a free port, with the real store in a folder of its own, for tests with real clients. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type IClientOptions, type MqttClient } from 'mqtt';
import { loadConfig } from '../../src/config/parse.js';
import type { InlineParts } from '../../src/engine/engine-host.js';
import { startGateway, type Gateway } from '../../src/gateway.js';
import { openReader, type ReadStore } from '../../src/store/reader.js';

export interface LogLine {
  readonly level: string;
  readonly text: string;
  readonly facts: Record<string, unknown>;
}

export interface Rig {
  readonly gateway: Gateway;
  readonly folder: string;
  readonly dataDir: string;
  readonly log: LogLine[];
  readonly url: string;
  connect(options?: IClientOptions): Promise<MqttClient>;
  reader(): ReadStore;
  stop(): Promise<void>;
}

export interface RigWishes {
  /** sections of the configuration besides site and motors */
  readonly yaml?: string;
  /** files beside the configuration, by name */
  readonly files?: Readonly<Record<string, string>>;
  readonly inline?: InlineParts;
  /** go on in an earlier rig's folder */
  readonly folder?: string;
}

const MOTORS = `
motors:
  pump-{1..2}:
    positions:
      de: {}
`;

export function prepareFolder(wishes: RigWishes): { folder: string; file: string } {
  const folder = wishes.folder ?? mkdtempSync(join(tmpdir(), 'tallypost-'));
  const file = join(folder, 'site.yaml');
  for (const [name, content] of Object.entries(wishes.files ?? {}))
    writeFileSync(join(folder, name), content);
  writeFileSync(file, `site: workshop\n${wishes.yaml ?? ''}${MOTORS}`);
  return { folder, file };
}

export function readConfigFile(file: string) {
  const result = loadConfig(file);
  if (!result.ok) throw new Error(JSON.stringify(result.problems, null, 2));
  return result;
}

export async function startRig(wishes: RigWishes = {}): Promise<Rig> {
  const { folder, file } = prepareFolder(wishes);
  const { config, plan } = readConfigFile(file);
  const dataDir = join(folder, 'data');
  const log: LogLine[] = [];
  const say = (level: string) => (facts: object, text: string) => {
    log.push({ level, text, facts: facts as Record<string, unknown> });
  };
  const gateway = await startGateway({
    ...{ config, plan, dataDir, version: '0.0.0-test' },
    mqtt: { host: '127.0.0.1', port: 0 },
    log: { debug: say('debug'), info: say('info'), warn: say('warn'), error: say('error') },
    ...(wishes.inline === undefined ? {} : { inline: wishes.inline }),
  });
  const clients: MqttClient[] = [];
  const url = `mqtt://127.0.0.1:${gateway.mqttPort}`;
  return {
    ...{ gateway, folder, dataDir, log, url },
    connect: async (options = {}) => {
      const client = await connectAsync(url, { reconnectPeriod: 0, ...options });
      client.on('error', () => undefined);
      clients.push(client);
      return client;
    },
    reader: () => openReader(dataDir),
    stop: async () => {
      for (const client of clients) client.end(true);
      await gateway.stop();
      if (wishes.folder === undefined) rmSync(folder, { recursive: true, force: true });
      const errors = log.filter(({ level }) => level === 'error');
      if (errors.length > 0 && wishes.inline === undefined) {
        throw new Error(`the gateway logged errors: ${JSON.stringify(errors, null, 2)}`);
      }
    },
  };
}

export function reading(seq: number, count: number, more: Record<string, unknown> = {}): string {
  return JSON.stringify({ device: 'SN-1', boot: 1, seq, count, at: Date.now(), ...more });
}

export const READING_TOPIC = 'workshop/in/pump-1/de/reading';

/** Waits until `found` says something other than undefined or false; throws after `patienceMs`. */
export async function waitFor<T>(
  what: string,
  found: () => T | undefined | false,
  patienceMs = 5_000,
): Promise<T> {
  const end = performance.now() + patienceMs;
  for (;;) {
    const value = found();
    if (value !== undefined && value !== false) return value;
    if (performance.now() > end) throw new Error(`after ${patienceMs} ms still not: ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
}
