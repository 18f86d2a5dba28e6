/**
 * Publishes a plant's messages over MQTT: a client for every sensor device and every drive reporter, each with its will,
 * QoS 1. A connection that the scenario cuts is really cut; one that the gateway cuts comes back and sends again.
 */
import { connect as openSocket } from 'node:net';
import mqtt, { type MqttClient } from 'mqtt';
import type { Message } from './messages.js';

export interface PublisherTally {
  published: number;
  acknowledged: number;
  failed: number;
  connections: number;
}

interface Client {
  readonly mqtt: MqttClient;
  waiting: number;
}

const RECONNECT_MS = 1_000;
/** More than so many unacknowledged messages at once, and the plant waits. */
const WAITING_MAX = 20_000;

export class Publisher {
  readonly tally: PublisherTally = { published: 0, acknowledged: 0, failed: 0, connections: 0 };
  /** last error that a connection reported; null: none */
  lastError: string | null = null;
  private readonly clients = new Map<string, Client>();
  private waiting = 0;

  /** `url`: such as mqtt://127.0.0.1:1883 */
  constructor(private readonly url: string) {}

  /** Does what the message says: publishes it, or takes the client's line up or down. Wills are the broker's to speak. */
  publish(message: Message): void {
    if (message.isWill === true || message.event === 'tick') return;
    const known = this.clients.get(message.client);
    if (message.event === 'disconnect') {
      if (known !== undefined) cutLine(known.mqtt);
      return;
    }
    if (message.event === 'connect') {
      // a client that is new opens with its first message, which says what its will is
      if (known !== undefined) mendLine(known.mqtt);
      return;
    }
    this.send(known ?? this.open(message), message);
  }

  private send(client: Client, { topic, payload, retain }: Message): void {
    const body = Buffer.isBuffer(payload) ? payload : JSON.stringify(payload);
    client.waiting += 1;
    this.waiting += 1;
    this.tally.published += 1;
    client.mqtt.publish(topic, body, { qos: 1, retain }, (error) => {
      client.waiting -= 1;
      this.waiting -= 1;
      if (error) {
        this.tally.failed += 1;
        this.lastError = error.message;
      } else {
        this.tally.acknowledged += 1;
      }
    });
  }

  private open(first: Message): Client {
    const client = mqtt.connect(this.url, {
      clientId: first.client,
      clean: true,
      keepalive: 30,
      reconnectPeriod: RECONNECT_MS,
      will: { topic: presenceTopic(first.topic), payload: writeWill(first.payload), qos: 1, retain: true },
    });
    client.on('error', (error) => (this.lastError = error.message));
    client.on('connect', () => (this.tally.connections += 1));
    const entry = { mqtt: client, waiting: 0 };
    this.clients.set(first.client, entry);
    return entry;
  }

  /** Resolves as soon as not too many messages wait for their acknowledgement. */
  async relax(signal?: AbortSignal): Promise<void> {
    while (this.waiting > WAITING_MAX && signal?.aborted !== true) await pause(5);
  }

  /** Waits for the acknowledgements, at most so long, then closes every connection in good order. */
  async finish(patienceMs: number): Promise<void> {
    for (const client of this.clients.values()) if (client.waiting > 0) mendLine(client.mqtt);
    const end = performance.now() + patienceMs;
    while (this.waiting > 0 && performance.now() < end) await pause(10);
    const force = this.waiting > 0;
    await Promise.all([...this.clients.values()].map((client) => client.mqtt.endAsync(force)));
  }
}

function cutLine(client: MqttClient): void {
  client.options.reconnectPeriod = 0;
  client.stream.destroy();
}

function mendLine(client: MqttClient): void {
  if (client.options.reconnectPeriod !== 0) return;
  client.options.reconnectPeriod = RECONNECT_MS;
  if (!client.connected) client.reconnect();
}

function presenceTopic(topic: string): string {
  return `${topic.slice(0, topic.lastIndexOf('/'))}/presence`;
}

function writeWill(payload: object | Buffer): Buffer {
  const device = 'device' in payload ? { device: payload.device } : {};
  return Buffer.from(JSON.stringify({ online: false, ...device }));
}

function pause(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

/**
 * Publishes chunk after chunk at its time: event time `from` is now, and `speed` times as fast from here on. Stops when
 * the signal says so. The caller finishes the publisher.
 */
export async function publishPaced(
  publisher: Publisher,
  chunks: Iterable<readonly Message[]>,
  pace: { readonly from: number; readonly speed: number },
  signal?: AbortSignal,
): Promise<void> {
  const origin = performance.now();
  for (const chunk of chunks) {
    for (const message of chunk) {
      const dueMs = origin + (message.arrived - pace.from) / pace.speed;
      for (let left = dueMs - performance.now(); left > 1; left = dueMs - performance.now()) {
        if (signal?.aborted === true) return;
        await pause(Math.min(left, 200));
      }
      if (signal?.aborted === true) return;
      publisher.publish(message);
      await publisher.relax(signal);
    }
    await pause(0);
  }
}

/** Whether somebody listens there. Resolves to null, or to why not. */
export function probeEndpoint(host: string, port: number, patienceMs = 5_000): Promise<string | null> {
  return new Promise((resolve) => {
    const socket = openSocket({ host, port });
    const end = (why: string | null): void => {
      socket.destroy();
      resolve(why);
    };
    socket.setTimeout(patienceMs, () => end('no answer'));
    socket.once('connect', () => end(null));
    socket.once('error', (error) => end(error.message));
  });
}
