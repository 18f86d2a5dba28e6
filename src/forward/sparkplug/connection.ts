/**
 * One connection of the edge node to its broker: its will is its death, and it counts its messages.
 * Source: Sparkplug 3.0, chapter 5, "Edge Node Session Establishment"; MQTT 3.1.1.
 */
import { connectAsync, type IClientOptions, type MqttClient } from 'mqtt';
import { encodePayload, DataType, type Metric } from './payload.js';

export interface ConnectionOptions {
  readonly url: string;
  readonly clientId: string;
  readonly user: string | undefined;
  readonly verifyServer: boolean;
  /** password, ca, cert, key */
  readonly secrets: ReadonlyMap<string, string>;
  readonly connectMs: number;
}

const KEEPALIVE_S = 15;
const SEQ_COUNT = 256;
const DEATH_WAIT_MS = 1_000;

export class Connection {
  private seq = 0;
  private pingsSent = 0;
  private pingsAnswered = 0;
  private isGone = false;

  private constructor(
    private readonly client: MqttClient,
    private readonly deathTopic: string,
    private readonly death: Buffer,
  ) {
    client.on('packetsend', ({ cmd }) => (this.pingsSent += cmd === 'pingreq' ? 1 : 0));
    client.on('packetreceive', ({ cmd }) => (this.pingsAnswered += cmd === 'pingresp' ? 1 : 0));
    client.once('close', () => (this.isGone = true));
  }

  get isOpen(): boolean {
    return !this.isGone;
  }

  /** `bdSeq`: in the will, and to be told in the birth. Rejects when it cannot be had; `signal` ends the attempt. */
  static async open(
    options: ConnectionOptions,
    deathTopic: string,
    bdSeq: number,
    now: number,
    signal: AbortSignal,
  ): Promise<Connection> {
    signal.throwIfAborted();
    const metric: Metric = {
      ...{ name: 'bdSeq', alias: null, timestamp: now, type: DataType.int64, tellsType: true },
      ...{ isHistorical: false, value: bdSeq, quality: null, isUncertain: null },
    };
    const death = encodePayload({ timestamp: now, seq: null, metrics: [metric] });
    const client = await connectAsync(options.url, toClientOptions(options, deathTopic, death), false);
    if (signal.aborted) {
      client.end(true);
      throw new Error('no connection within the deadline');
    }
    return new Connection(client, deathTopic, death);
  }

  /** Messages to these topics, QoS 1. Rejects when the broker does not allow one of them. */
  /** `isRetained`: the broker had kept it, it is not said now */
  async listen(
    topics: readonly string[],
    hear: (topic: string, payload: Buffer, isRetained: boolean) => void,
  ): Promise<void> {
    this.client.on('message', (topic, payload, { retain }) => hear(topic, payload, retain));
    const granted = await this.client.subscribeAsync([...topics], { qos: 1 });
    const refused = granted.filter(({ qos }) => qos > 2).map(({ topic }) => topic);
    if (refused.length > 0) throw new Error(`the broker does not let it subscribe to ${refused.join(', ')}`);
  }

  onClose(act: () => void): void {
    this.client.once('close', act);
    this.client.on('error', () => undefined); // a close follows
  }

  /** Sent at once, with the next number. `isBirth`: it begins to count anew. */
  publish(topic: string, metrics: readonly Metric[], now: number, isBirth = false): void {
    if (isBirth) this.seq = 0;
    const payload = encodePayload({ timestamp: now, seq: this.seq, metrics });
    this.seq = (this.seq + 1) % SEQ_COUNT;
    this.client.publish(topic, payload, { qos: 0, retain: false });
  }

  /**
   * Resolves when the broker has read everything that was published before: it answers a PINGREQ that came behind it. False:
   * the connection ended first, or `signal` aborted, and the socket is gone.
   */
  flush(signal: AbortSignal): Promise<boolean> {
    return new Promise((resolve) => {
      const finish = (isDone: boolean): void => {
        this.client.off('packetreceive', look);
        this.client.off('close', onClose);
        signal.removeEventListener('abort', onAbort);
        resolve(isDone);
      };
      const onClose = (): void => finish(false);
      const onAbort = (): void => {
        this.drop();
        finish(false);
      };
      if (this.isGone || signal.aborted) {
        if (signal.aborted) this.drop();
        resolve(false);
        return;
      }
      this.client.sendPing();
      const wanted = this.pingsSent;
      const look = (): void => {
        if (this.pingsAnswered >= wanted) finish(true);
      };
      this.client.on('packetreceive', look);
      this.client.once('close', onClose);
      signal.addEventListener('abort', onAbort, { once: true });
    });
  }

  /** Tells its death and takes its leave, so that the broker need not. Resolves always, within a second or so. */
  async end(): Promise<void> {
    if (!this.isGone) {
      const told = this.client.publishAsync(this.deathTopic, this.death, { qos: 1, retain: false });
      let timer: NodeJS.Timeout | undefined;
      const late = new Promise((resolve) => (timer = setTimeout(resolve, DEATH_WAIT_MS)));
      await Promise.race([told.catch(() => undefined), late]);
      clearTimeout(timer);
      await Promise.race([
        this.client.endAsync(false).catch(() => undefined),
        new Promise((resolve) => (timer = setTimeout(resolve, DEATH_WAIT_MS))),
      ]);
      clearTimeout(timer);
    }
    this.drop();
  }

  /** Without a word: the broker publishes the will. */
  drop(): void {
    this.isGone = true;
    this.client.stream.destroy();
    this.client.end(true);
  }
}

function toClientOptions(
  { clientId, user, verifyServer, secrets, connectMs }: ConnectionOptions,
  deathTopic: string,
  death: Buffer,
): IClientOptions {
  const options: IClientOptions = {
    ...{ clientId, protocolVersion: 4, clean: true, keepalive: KEEPALIVE_S, resubscribe: false },
    ...{ reconnectPeriod: 0, connectTimeout: connectMs, rejectUnauthorized: verifyServer },
    will: { topic: deathTopic, payload: death, qos: 1, retain: false },
  };
  const [password, ca, cert, key] = ['password', 'ca', 'cert', 'key'].map((stem) => secrets.get(stem));
  if (user !== undefined) options.username = user;
  if (password !== undefined) options.password = password;
  if (ca !== undefined) options.ca = ca;
  if (cert !== undefined) options.cert = cert;
  if (key !== undefined) options.key = key;
  return options;
}
