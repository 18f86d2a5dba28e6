/**
 * The gateway: the one place that wires the rooms together. Messages go from the intake to the engine, acknowledgements and
 * what was told come back; nobody else is in that path.
 */
import { gatewayPresenceTopic } from '../shared/topics.js';
import { writeGatewayPresence } from '../shared/write-messages.js';
import type { AlarmWish, LiveEvent, Metric } from './api/deps.js';
import type { Config } from './config/config.js';
import { isLoopback } from './config/endpoint.js';
import type { ActAnswer, AlarmRecord } from './core/alarm-rows.js';
import type { SinkStanding } from './core/facts.js';
import type { Plan } from './core/plan.js';
import { AddedTime, SYSTEM_CLOCK } from './engine/clock.js';
import { EngineHost } from './engine/engine-host.js';
import type { EntryResult, MaintenanceCall } from './engine/maintenance-calls.js';
import type { EngineFigures, FromEngine, KeptRecord, Told } from './engine/protocol.js';
import { startBroker } from './intake/broker.js';
import type { Intake } from './intake/intake.js';
import { readLogins } from './gateway-logins.js';
import { listEvents } from './gateway-live.js';
import { makeMetrics, type GatewayFigures } from './gateway-metrics.js';
import type { Gateway, GatewayWishes, Recorded } from './gateway-port.js';

export type { Gateway, Recorded };

/** Silence after which a pipe counts as blocked. */
const STUCK_MS = 10_000;
const FAREWELL_MS = 200;

/**
 * Resolves when messages can come in, or when it is known why not (see `ready`). Rejects when a password cannot be read,
 * or the address cannot be had.
 */
export async function startGateway(wishes: GatewayWishes): Promise<Gateway> {
  const running = new WiredGateway(wishes);
  await running.start();
  return running;
}

class WiredGateway implements Gateway {
  readonly #wishes: GatewayWishes;
  #plan: Plan;
  #intake!: Intake;
  #engine!: EngineHost;
  #reasons: readonly string[] = ['the engine is starting'];
  #figures: EngineFigures | null = null;
  /** the alarm that it cannot store; null: it can */
  #halted: AlarmRecord | null = null;
  #heardAt = performance.now();
  #recorder: ((recorded: Recorded) => void) | null = null;
  readonly #listeners = new Set<(event: LiveEvent) => void>();
  readonly #time: AddedTime;
  readonly #clockFollowers = new Set<(offsetMs: number) => void>();
  #floodSince: number | null = null;
  #isWired = false;
  #isStopping = false;

  constructor(wishes: GatewayWishes) {
    this.#wishes = wishes;
    this.#plan = wishes.plan;
    const clock = wishes.inline?.clock ?? SYSTEM_CLOCK;
    this.#time = new AddedTime(clock, (leftMs) => this.#tellClock(leftMs));
  }

  async start(): Promise<void> {
    const { config, plan, log } = this.#wishes;
    const endpoint = this.#wishes.mqtt ?? config.mqtt.listen;
    const logins = readLogins(config, log);
    if (logins === null && !isLoopback(endpoint)) {
      throw new Error(
        `without users the broker listens on loopback only, not on ${endpoint.host}: add mqtt.users, or listen on 127.0.0.1`,
      );
    }
    const heard = await this.#startEngine();
    const { minCommitIntervalMs } = config.storage;
    this.#intake = await startBroker({
      ...{ site: plan.site, host: endpoint.host, port: endpoint.port, limits: config.mqtt },
      ...{ minCommitIntervalMs, logins, persistentClients: config.mqtt.persistentClients, log },
      now: () => this.now(),
      submit: (batch) => this.#engine.post({ kind: 'batch', batch }, [batch.buffer]),
      interestChanged: ({ outbound }) => this.#engine.post({ kind: 'interest', outbound }),
    }).catch(async (error: unknown) => {
      await this.#engine.stop();
      throw error;
    });
    this.#isWired = true;
    for (const message of heard) this.#receive(message);
  }

  /** Resolves, once it is known whether it can commit, with what it said so far; what it says later is received. */
  #startEngine(): Promise<FromEngine[]> {
    const { config, plan, dataDir, inline = null } = this.#wishes;
    const { minCommitIntervalMs, walBytesMax, retention } = config.storage;
    const heard: FromEngine[] = [];
    return new Promise((resolve) => {
      this.#engine = new EngineHost({
        ...{ dataDir, plan, minCommitIntervalMs, storage: { walBytesMax, retention }, inline },
        forwards: config.sinks.length > 0,
        onMessage: (message) => {
          if (this.#isWired) this.#receive(message);
          else heard.push(message);
          if (message.kind === 'ready' || message.kind === 'halted') resolve(heard);
        },
      });
    });
  }

  get mqttPort(): number {
    return this.#intake.port;
  }

  #receive(message: FromEngine): void {
    this.#heardAt = performance.now();
    switch (message.kind) {
      case 'done':
        this.#intake.settle(message.id, message.rejected, message.buffer);
        if (message.told !== null) this.#tell(message.told);
        return;
      case 'told':
        this.#tell(message.told);
        return;
      case 'ready':
        void this.#open(message);
        return;
      case 'halted':
        this.#reasons = [message.reason];
        this.#halted = message.record;
        this.#intake.halt(message.reason);
        this.#intake.publish([message.alarm]);
        return;
      case 'notice':
        this.#wishes.log[message.level](message.facts, message.text);
        return;
      case 'figures':
        this.#figures = message.figures;
        // once a second: a clock that was set shows only when it is looked at
        this.now();
        return;
      case 'answer':
    }
  }

  async #open(message: Extract<FromEngine, { kind: 'ready' }>): Promise<void> {
    this.#takeClock(message.clockOffsetMs);
    this.#halted = null;
    this.#floodSince = message.floodSince;
    await this.#intake.restoreRetained(message.retained.map((kept) => ({ ...kept, retain: true })));
    if (this.#isStopping) return;
    this.#intake.publish(message.alarms);
    this.#publishPresence(true);
    this.#reasons = [];
    this.#intake.resume();
  }

  now(): number {
    return Math.floor(this.#time.now());
  }

  followClock(listener: (offsetMs: number) => void): () => void {
    this.#clockFollowers.add(listener);
    listener(this.#time.ms);
    return () => void this.#clockFollowers.delete(listener);
  }

  #takeClock(offsetMs: number): void {
    if (offsetMs === this.#time.ms) return;
    this.#time.set(offsetMs);
    this.#tellClock(offsetMs);
  }

  #tellClock(offsetMs: number): void {
    for (const listener of this.#clockFollowers) listener(offsetMs);
  }

  #publishPresence(online: boolean): void {
    const { site, revision } = this.#plan;
    const { version } = this.#wishes;
    const body = writeGatewayPresence(online, this.now(), version, revision, this.#floodSince);
    this.#intake.publish([
      { topic: gatewayPresenceTopic(site), payload: JSON.stringify(body), retain: true },
    ]);
  }

  #tell(told: Told): void {
    if (told.tick !== null) this.#recorder?.({ kind: 'tick', arrived: told.tick });
    this.#intake.publish(told.publications);
    if (told.flood !== null) {
      this.#floodSince = told.flood.since;
      this.#publishPresence(true);
    }
    if (this.#listeners.size === 0) return;
    const events = listEvents(told);
    for (const listener of this.#listeners) for (const event of events) listener(event);
  }

  plan(): Plan {
    return this.#plan;
  }

  ready(): { ok: boolean; reasons: readonly string[] } {
    const reasons = [...this.#reasons];
    const { waitingMs, isListening } = this.#intake.figures();
    if (!isListening) reasons.push('the broker does not listen');
    if (waitingMs > STUCK_MS)
      reasons.push(`a batch has been waiting for its commit for ${Math.round(waitingMs / 1000)} s`);
    const silentMs = performance.now() - this.#heardAt;
    const longestMs = STUCK_MS + this.#wishes.config.storage.minCommitIntervalMs;
    if (silentMs > longestMs)
      reasons.push(`the engine has said nothing for ${Math.round(silentMs / 1000)} s`);
    return { ok: reasons.length === 0, reasons };
  }

  figures(): GatewayFigures {
    const contacts: GatewayFigures['contacts'] = (topics) => this.#intake.contacts(topics);
    const parts = {
      contacts,
      engine: this.#figures,
      floodSince: this.#floodSince,
      clockOffsetMs: this.#time.ms,
    };
    return { intake: this.#intake.figures(), ...parts };
  }

  metrics(): readonly Metric[] {
    return makeMetrics(this.figures(), this.ready().ok);
  }

  subscribeLive(listener: (event: LiveEvent) => void): () => void {
    this.#listeners.add(listener);
    return () => void this.#listeners.delete(listener);
  }

  async operate(wish: AlarmWish): Promise<readonly ActAnswer[]> {
    return (await this.#engine.call({ do: 'operate', ...wish })) as readonly ActAnswer[];
  }

  ownAlarms(): readonly AlarmRecord[] {
    return this.#halted === null ? [] : [this.#halted];
  }

  async maintain(call: MaintenanceCall): Promise<EntryResult> {
    return (await this.#engine.call(call)) as EntryResult;
  }

  async reload(config: Config, plan: Plan, note: string): Promise<void> {
    const logins = readLogins(config, this.#wishes.log);
    await this.#engine.call({ do: 'reload', plan, note });
    this.#plan = plan;
    this.#intake.setLogins(logins);
    this.#publishPresence(true);
  }

  async note(text: string): Promise<void> {
    await this.#engine.call({ do: 'note', text });
  }

  async keep(record: KeptRecord): Promise<void> {
    await this.#engine.call({ do: 'keep', ...record });
  }

  forwarded(done: ReadonlyMap<number, number>): void {
    this.#engine.post({ kind: 'forwarded', done });
  }

  tellSinks(sinks: readonly SinkStanding[]): void {
    this.#engine.post({ kind: 'sinks', sinks });
  }

  async backup(path: string): Promise<{ bytes: number }> {
    return (await this.#engine.call({ do: 'backup', path })) as { bytes: number };
  }

  async trustClock(who: string): Promise<void> {
    await this.#engine.call({ do: 'trust-clock', who });
  }

  record(recorder: ((recorded: Recorded) => void) | null): void {
    this.#recorder = recorder;
    this.#intake.setTap(recorder);
  }

  async stop(): Promise<void> {
    if (this.#isStopping) return;
    this.#isStopping = true;
    this.#publishPresence(false);
    await new Promise((resolve) => setTimeout(resolve, FAREWELL_MS));
    await this.#intake.stop();
    await this.#engine.stop();
  }
}
