/**
 * The edge node between the sink and its connections: it is born when its broker, and its primary host if it has one, are there,
 * it is born again on request, and it dies when the host goes, to wait for it on a new connection.
 * Source: Sparkplug 3.0, chapter 5.
 */
import { controlMetrics, REBIRTH, type Catalogue } from './catalogue.js';
import { Connection, type ConnectionOptions } from './connection.js';
import { HostState } from './host-state.js';
import { commandsTrue } from './payload.js';
import type { Report } from './metric-groups.js';

export interface EdgeNodeOptions {
  readonly connection: ConnectionOptions;
  readonly group: string;
  readonly node: string;
  /** null: none, it is born at once */
  readonly primaryHost: string | null;
  /** least time between two births on request */
  readonly rebirthMs: number;
}

export interface EdgeNodeParts {
  now(this: void): number;
  steady(this: void): number;
  log(this: void, level: 'info' | 'warn' | 'error', facts: object, text: string): void;
  /** the primary host went, or the broker between; what was sent shortly before may not have reached it */
  onHostLost(this: void): void;
}

/** Metrics of one message; more go into the next. Our choice: some 15 kB. */
const METRICS_MOST = 600;
const COMMAND_BYTES_MOST = 65_536;
const RETRY_LEAST_MS = 1_000;
const RETRY_MOST_MS = 30_000;

export class EdgeNode {
  private connection: Connection | null = null;
  private isBorn = false;
  /** by the clock that nobody sets */
  private bornAt = -Infinity;
  private isWanted = false;
  private rebirthTimer: NodeJS.Timeout | null = null;
  private retryTimer: NodeJS.Timeout | null = null;
  private retryMs = RETRY_LEAST_MS;
  /** raised by each attempt to connect and by each close: an attempt that was overtaken lets go of what it got */
  private attempt = 0;
  private readonly host: HostState | null;
  /** of the host that it was born for */
  private life = 0;

  constructor(
    private readonly options: EdgeNodeOptions,
    private readonly catalogue: Catalogue,
    private readonly parts: EdgeNodeParts,
  ) {
    this.host = options.primaryHost === null ? null : new HostState(options.primaryHost);
  }

  /** `absent`: there is no connection. `waiting`: for the primary host. */
  readState(): 'absent' | 'waiting' | 'born' {
    if (this.connection === null || !this.connection.isOpen) return 'absent';
    return this.isBorn ? 'born' : 'waiting';
  }

  async open(signal: AbortSignal): Promise<void> {
    await this.close();
    this.isWanted = true;
    await this.connect(signal);
  }

  async close(): Promise<void> {
    this.isWanted = false;
    this.attempt += 1;
    if (this.retryTimer !== null) clearTimeout(this.retryTimer);
    this.retryTimer = null;
    await this.leave();
  }

  /**
   * Publishes reports, behind the births that they need. False: something ended before the broker had read all of it.
   * Throws a `RangeError` where there are more metrics than can be kept.
   */
  async publish(reports: readonly Report[], signal: AbortSignal): Promise<boolean> {
    const { connection, life } = this;
    if (connection === null || this.readState() !== 'born') return false;
    const grown = this.catalogue.learn(reports);
    if (grown.has('')) this.bear();
    else for (const device of grown) this.bearDevice(device);
    for (const [device, own] of groupByDevice(reports)) {
      for (let i = 0; i < own.length;) {
        const metrics = [];
        while (i < own.length && metrics.length < METRICS_MOST)
          metrics.push(...this.catalogue.dataMetrics(own[i++]!));
        connection.publish(this.topicOf('DATA', device), metrics, this.parts.now());
      }
    }
    const isRead = await connection.flush(signal);
    return isRead && this.connection === connection && this.isBorn && this.life === life;
  }

  private async connect(signal: AbortSignal): Promise<void> {
    const { now, log } = this.parts;
    const { connection: options } = this.options;
    const attempt = ++this.attempt;
    this.host?.forget();
    const bdSeq = this.catalogue.takeBdSeq();
    const connection = await Connection.open(options, this.topicOf('DEATH', ''), bdSeq, now(), signal);
    if (attempt !== this.attempt) {
      connection.drop();
      throw new Error('it was closed while it connected');
    }
    this.connection = connection;
    connection.onClose(() => this.loseConnection(connection));
    const topics = [this.topicOf('CMD', ''), ...(this.host?.topics ?? [])];
    try {
      await connection.listen(topics, (...message) => this.hear(connection, ...message));
    } catch (error) {
      if (this.connection === connection) this.connection = null;
      connection.drop();
      throw error;
    }
    if (!connection.isOpen) throw new Error('the broker closed the connection');
    this.retryMs = RETRY_LEAST_MS;
    if (this.host === null) this.bear();
    else if (!this.isBorn) log('info', { host: this.options.primaryHost }, 'waiting for the primary host');
  }

  private hear(connection: Connection, topic: string, payload: Buffer, isRetained: boolean): void {
    if (connection !== this.connection) return;
    if (topic === this.topicOf('CMD', '')) this.obey(payload);
    else if (this.host?.hear(topic, payload, isRetained) === true) this.followHost();
  }

  private followHost(): void {
    const isThere = this.host?.isOnline === true;
    const isOther = this.host?.life !== this.life;
    if (isThere && (!this.isBorn || isOther)) {
      if (this.isBorn) {
        this.parts.log(
          'warn',
          { host: this.options.primaryHost },
          'the primary host came back; it had not said that it went',
        );
        this.parts.onHostLost();
      }
      this.life = this.host.life;
      this.bear();
    } else if (!isThere && this.isBorn) {
      this.parts.log('warn', { host: this.options.primaryHost }, 'the primary host is offline: records wait');
      this.parts.onHostLost();
      // it dies and waits on a new connection, as 5.4 asks
      const { attempt } = this;
      void this.leave().then(() => {
        if (attempt === this.attempt) this.retry(0);
      });
    }
  }

  /** A storm of requests makes one birth now and one when the time has passed. */
  private obey(payload: Buffer): void {
    if (!this.isBorn || payload.length > COMMAND_BYTES_MOST) return;
    try {
      if (!commandsTrue(payload, REBIRTH)) return;
    } catch {
      this.parts.log('warn', { bytes: payload.length }, 'a command that is no payload was left aside');
      return;
    }
    const waitMs = this.bornAt + this.options.rebirthMs - this.parts.steady();
    if (waitMs <= 0) this.bear();
    else
      this.rebirthTimer ??= setTimeout(() => {
        this.rebirthTimer = null;
        if (this.isBorn) this.bear();
      }, waitMs);
  }

  /** The node and all its devices, in one go: nothing else comes in between. */
  private bear(): void {
    const { connection } = this;
    if (connection === null || !connection.isOpen) return;
    const now = this.parts.now();
    const metrics = [...controlMetrics(this.catalogue.bdSeq, now), ...this.catalogue.birthMetrics('', now)];
    connection.publish(this.topicOf('BIRTH', ''), metrics, now, true);
    for (const device of this.catalogue.devices()) this.bearDevice(device);
    this.isBorn = true;
    this.bornAt = this.parts.steady();
  }

  private bearDevice(device: string): void {
    const now = this.parts.now();
    this.connection?.publish(this.topicOf('BIRTH', device), this.catalogue.birthMetrics(device, now), now);
  }

  private loseConnection(connection: Connection): void {
    if (connection !== this.connection) return;
    this.connection = null;
    // a broker that died has not handed on all that it had read
    if (this.isBorn && this.host !== null) this.parts.onHostLost();
    this.forgetBirth();
    this.retry(this.retryMs);
  }

  /** On its own, so that the node is there for its host even while there is nothing to send. */
  private retry(afterMs: number): void {
    if (!this.isWanted || this.retryTimer !== null || this.connection !== null) return;
    this.retryTimer = setTimeout(() => {
      this.retryTimer = null;
      if (this.connection !== null) return;
      this.retryMs = Math.min(2 * this.retryMs, RETRY_MOST_MS);
      const connecting = this.connect(AbortSignal.timeout(this.options.connection.connectMs));
      const { attempt } = this;
      connecting.catch((error: unknown) => {
        // overtaken: how that newer attempt goes is for whoever made it
        if (attempt !== this.attempt) return;
        this.parts.log('warn', { err: String(error) }, 'the broker cannot be reached');
        this.retry(this.retryMs);
      });
    }, afterMs);
  }

  private async leave(): Promise<void> {
    const { connection } = this;
    this.connection = null;
    this.forgetBirth();
    await connection?.end();
  }

  private forgetBirth(): void {
    this.isBorn = false;
    if (this.rebirthTimer !== null) clearTimeout(this.rebirthTimer);
    this.rebirthTimer = null;
  }

  private topicOf(what: 'BIRTH' | 'DATA' | 'DEATH' | 'CMD', device: string): string {
    const { group, node } = this.options;
    return device === ''
      ? `spBv1.0/${group}/N${what}/${node}`
      : `spBv1.0/${group}/D${what}/${node}/${device}`;
  }
}

/** In order of time within each. */
function groupByDevice(reports: readonly Report[]): Map<string, Report[]> {
  const byDevice = new Map<string, Report[]>();
  for (const report of reports) {
    const own = byDevice.get(report.device);
    if (own === undefined) byDevice.set(report.device, [report]);
    else own.push(report);
  }
  for (const own of byDevice.values()) own.sort((a, b) => a.at - b.at);
  return byDevice;
}
