/** A broker whose engine is the test: batches are collected, and settled when the test says so, or at once. */
import { connect, type Socket } from 'node:net';
import mqtt, { type IClientOptions, type MqttClient } from 'mqtt';
import { FrameKind, FrameReader } from '../../src/engine/frame-reader.js';
import { startBroker } from '../../src/intake/broker.js';
import type { SubmittedBatch } from '../../src/intake/batcher.js';
import type { Login } from '../../src/intake/credentials.js';
import type { Interest, Intake, IntakeLimits } from '../../src/intake/intake.js';

export interface Frame {
  readonly topic: string;
  readonly client: string;
  readonly payload: string;
  readonly flags: number;
  readonly isSessionEnd: boolean;
}

export interface BrokerRig {
  readonly intake: Intake;
  /** every frame submitted so far, in order */
  readonly frames: Frame[];
  readonly batches: SubmittedBatch[];
  readonly warnings: { text: string; facts: Record<string, unknown> }[];
  interest: Interest;
  /** true: each batch is settled as soon as it comes */
  isSettling: boolean;
  /** places of rejected frames for the next batches settled */
  rejected: number[];
  settleAll(): void;
  connect(options?: IClientOptions): Promise<MqttClient>;
  /** a plain socket, for bytes that no client library sends */
  socket(): Promise<Socket>;
  stop(): Promise<void>;
}

export interface BrokerRigWishes {
  readonly limits?: Partial<IntakeLimits>;
  readonly logins?: readonly Login[] | null;
  readonly persistentClients?: readonly string[];
  readonly minCommitIntervalMs?: number;
}

const LIMITS: IntakeLimits = {
  packetBytesMax: 65_536,
  clientsMax: 100,
  pendingPerClientMax: 200,
  pendingBytesMax: 33_554_432,
  drainTimeoutMs: 5_000,
};

export async function startBrokerRig(wishes: BrokerRigWishes = {}): Promise<BrokerRig> {
  let names: string[] = [];
  const clients: MqttClient[] = [];
  const sockets: Socket[] = [];
  let settled = 0;
  const quiet = (): void => undefined;
  const rig: BrokerRig = {
    ...{ frames: [], batches: [], warnings: [], rejected: [], isSettling: false },
    interest: { inbound: false, outbound: false },
    intake: await startBroker({
      ...{ site: 'workshop', host: '127.0.0.1', port: 0 },
      limits: { ...LIMITS, ...wishes.limits },
      minCommitIntervalMs: wishes.minCommitIntervalMs ?? 0,
      logins: wishes.logins ?? null,
      persistentClients: wishes.persistentClients ?? [],
      log: {
        ...{ debug: quiet, info: quiet, error: quiet },
        warn: (facts, text) => rig.warnings.push({ text, facts: facts as Record<string, unknown> }),
      },
      now: () => 1_772_431_200_000,
      submit: (batch) => {
        names = batch.resetNames ? [...batch.names] : [...names, ...batch.names];
        rig.frames.push(...readFrames(batch, names));
        rig.batches.push(batch);
        if (rig.isSettling) setImmediate(() => rig.settleAll());
      },
      interestChanged: (interest) => {
        rig.interest = interest;
      },
    }),
    settleAll: () => {
      while (settled < rig.batches.length) {
        const batch = rig.batches[settled]!;
        settled += 1;
        rig.intake.settle(batch.id, rig.rejected, batch.buffer);
      }
    },
    connect: async (options = {}) => {
      const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${rig.intake.port}`, {
        ...{ reconnectPeriod: 0, connectTimeout: 3_000 },
        ...options,
      });
      client.on('error', quiet);
      clients.push(client);
      return client;
    },
    socket: () =>
      new Promise((resolve, reject) => {
        const socket = connect(rig.intake.port, '127.0.0.1', () => resolve(socket));
        socket.on('error', reject);
        sockets.push(socket);
      }),
    stop: async () => {
      for (const client of clients) client.end(true);
      for (const socket of sockets) socket.destroy();
      await rig.intake.stop();
    },
  };
  rig.intake.resume();
  return rig;
}

function readFrames(batch: SubmittedBatch, names: readonly string[]): Frame[] {
  const reader = new FrameReader(batch.buffer, batch.length);
  const frames: Frame[] = [];
  while (reader.next()) {
    const isSessionEnd = reader.kind === FrameKind.sessionEnd;
    frames.push({
      topic: isSessionEnd ? '' : names[reader.topic]!,
      client: names[reader.client]!,
      payload: reader.payload.toString(),
      flags: reader.flags,
      isSessionEnd,
    });
  }
  return frames;
}

export function pause(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

/** Waits until `found` says true; throws after `patienceMs`. */
export async function until(what: string, found: () => boolean, patienceMs = 5_000): Promise<void> {
  const end = performance.now() + patienceMs;
  while (!found()) {
    if (performance.now() > end) throw new Error(`after ${patienceMs} ms still not: ${what}`);
    await pause(5);
  }
}
