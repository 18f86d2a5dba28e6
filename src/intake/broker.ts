/**
 * The embedded MQTT broker: the library, wired so that a publish is answered only after its commit (see `gatehouse.ts`),
 * that packets are bounded before login (`frame-guard.ts`), and that a subscriber who does not read delays nobody
 * (`fan-out.ts`).
 */
import { Aedes, type AedesPublishPacket, type Client, type PublishPacket } from 'aedes';
import { createServer, type AddressInfo, type Server, type Socket } from 'node:net';
import { isValidFilter } from '../../shared/topic-filters.js';
import type { Login } from './credentials.js';
import { ContactBook, type ContactReport } from './contacts.js';
import { FanOut } from './fan-out.js';
import { DONE_WITH, Gatehouse } from './gatehouse.js';
import type { Arrival, Intake, IntakeFigures, IntakeWishes, Publication } from './intake.js';
import { LimitedLog } from './log-limit.js';
import { LoginDesk } from './login-desk.js';
import { BAD_LOGIN, IDENTIFIER_REJECTED, LoginError, SERVER_UNAVAILABLE } from './login-error.js';
import { boundSessionQueues } from './session-queue.js';
import { toPacket } from './packet.js';
import { LEVELS_MAX, Session, type Continue } from './session.js';
import { joinSluices } from './sluice.js';

const CONNECT_BYTES_MAX = 8_192;
const CONNECT_TIMEOUT_MS = 10_000;
const CLIENT_ID_MAX = 256;
const KEEP_ALIVE_MS = 60_000;
const BATCH = { countMax: 4_000, bytesMax: 1_048_576, namesMax: 65_536 };

/** Starts listening. Rejects when the address cannot be had. It begins halted: call `resume` when the engine is ready. */
export async function startBroker(wishes: IntakeWishes): Promise<Intake> {
  const broker = new Broker(wishes);
  await broker.start();
  return broker;
}

class Broker implements Intake {
  port = 0;
  readonly #wishes: IntakeWishes;
  readonly #log: LimitedLog;
  readonly #gatehouse: Gatehouse;
  readonly #fanOut: FanOut;
  readonly #desk: LoginDesk;
  readonly #contacts = new ContactBook();
  readonly #sessions = new Map<Socket, Session>();
  readonly #persistent: ReadonlySet<string>;
  #aedes!: Aedes;
  #server!: Server;
  #isStopping = false;
  #cuts = 0;

  constructor(wishes: IntakeWishes) {
    const { site, limits, logins, minCommitIntervalMs } = wishes;
    this.#wishes = wishes;
    this.#log = new LimitedLog(wishes.log);
    this.#desk = new LoginDesk(site, logins);
    this.#persistent = new Set(wishes.persistentClients);
    this.#gatehouse = new Gatehouse({
      limits: { ...BATCH, pendingBytesMax: limits.pendingBytesMax, minCommitIntervalMs },
      log: this.#log,
      contacts: this.#contacts,
      now: () => wishes.now(),
      submit: (batch) => wishes.submit(batch),
      isHeard: () => this.#fanOut.isInboundWanted,
      deliver: (packet) => this.#aedes.publish(packet, () => undefined),
    });
    const cut = (socket: Socket, reason: string): void => this.#sessions.get(socket)?.cut(reason);
    this.#fanOut = new FanOut(site, cut, () => {
      const { isInboundWanted: inbound, isOutboundWanted: outbound } = this.#fanOut;
      wishes.interestChanged({ inbound, outbound });
    });
  }

  async start(): Promise<void> {
    const { limits, host, port } = this.#wishes;
    this.#aedes = await Aedes.createBroker({
      connectTimeout: CONNECT_TIMEOUT_MS,
      drainTimeout: limits.drainTimeoutMs,
      maxInflightInbound: limits.pendingPerClientMax,
      maxTopicLevels: LEVELS_MAX,
      authenticate: (client, name, password, done) => this.#authenticate(client, name, password, done),
      authorizePublish: (client, packet, done) => this.#hold(client, packet, done),
      authorizeSubscribe: (client, subscription, done) =>
        done(null, this.#maySubscribe(client, subscription.topic) ? subscription : null),
    });
    this.#shortenPublish();
    this.#boundSessions();
    this.#listenToSessions();
    const options = { noDelay: true, keepAlive: true, keepAliveInitialDelay: KEEP_ALIVE_MS };
    this.#server = createServer(options, (socket) => this.#welcome(socket));
    this.#server.maxConnections = limits.clientsMax;
    this.#server.on('drop', () =>
      this.#log.warn('a client was turned away', { clientsMax: limits.clientsMax }),
    );
    await new Promise<void>((resolve, reject) => {
      this.#server.once('error', reject);
      this.#server.listen(port, host, resolve);
    });
    this.#server.removeAllListeners('error');
    this.#server.on('error', (error) =>
      this.#log.warn('the listening socket failed', { error: error.message }),
    );
    this.port = (this.#server.address() as AddressInfo).port;
  }

  /** What needs no delivery ends here; and nobody waits until subscribers have read what they are sent. */
  #shortenPublish(): void {
    const aedes = this.#aedes;
    type Deliver = (packet: PublishPacket, client: Client | null, done: () => void) => void;
    const deliver = aedes.publish.bind(aedes) as unknown as Deliver;
    const shortened = (packet: PublishPacket, from: unknown, then?: Continue): void => {
      const client = typeof from === 'function' ? null : (from as Client | null);
      const done = typeof from === 'function' ? (from as Continue) : then;
      if (packet.payload !== DONE_WITH) {
        this.#fanOut.deliver(packet.payload.length, (delivered) => deliver(packet, client, delivered));
      }
      done?.(null);
    };
    aedes.publish = shortened;
    this.#fanOut.follow((aedes as unknown as { mq: Parameters<FanOut['follow']>[0] }).mq);
  }

  #boundSessions(): void {
    const { persistence, clients } = this.#aedes as unknown as {
      persistence: Parameters<typeof boundSessionQueues>[0];
      clients: Record<string, Client | undefined>;
    };
    boundSessionQueues(persistence, (client) => {
      this.#log.warn('the queue of a kept session is full: messages are left out', { client });
      const online = clients[client];
      if (online !== undefined) this.#sessions.get(online.conn as Socket)?.cut('acknowledges nothing');
    });
  }

  #listenToSessions(): void {
    const aedes = this.#aedes;
    aedes.on('clientError', (client, error) =>
      this.#wishes.log.debug({ client: client.id, error: error.message }, 'connection ended with an error'),
    );
    aedes.on('connectionError', (_client, error) =>
      this.#log.warn('a connection ended before login', { error: error.message }),
    );
    aedes.on('keepaliveTimeout', (client) => this.#log.warn('a client fell silent', { client: client.id }));
    aedes.on('unsubscribe', (filters, client) => this.#fanOut.remove(client.id, filters));
    aedes.on('clientReady', (client) => {
      this.#gatehouse.tap?.({ kind: 'connect', arrived: this.#wishes.now(), client: client.id });
      const session = this.#sessions.get(client.conn as Socket);
      if (session !== undefined) this.#gatehouse.open(session, client);
    });
    aedes.on('clientDisconnect', (client) => {
      const session = this.#sessions.get(client.conn as Socket);
      if (this.#isStopping) return;
      this.#fanOut.forget(client.id, !client.clean);
      if (session === undefined) return;
      this.#contacts.keep(session);
      this.#gatehouse.endSession(session);
    });
  }

  #welcome(socket: Socket): void {
    const cut = (reason: string): void => {
      if (socket.destroyed) return;
      this.#cuts += 1;
      this.#log.warn(`a client was cut: ${reason}`, {
        client: session.clientId,
        address: socket.remoteAddress,
      });
      socket.destroy();
    };
    const { packetBytesMax, pendingPerClientMax } = this.#wishes.limits;
    const connectBytesMax = Math.min(CONNECT_BYTES_MAX, packetBytesMax);
    const limits = { packetBytesMax, pendingPerClientMax, connectBytesMax };
    const session = new Session(socket, limits, joinSluices(this.#gatehouse.batcher, this.#fanOut), cut);
    this.#sessions.set(socket, session);
    // after the library's own listeners, which still ask for the session
    socket.once('close', () => setImmediate(() => this.#sessions.delete(socket)));
    this.#aedes.handle(socket);
  }

  #authenticate(
    client: Client,
    name: string | undefined,
    password: Buffer | undefined,
    done: (error: LoginError | null, success: boolean | null) => void,
  ): void {
    const session = this.#sessions.get(client.conn as Socket);
    const refuse = (message: string, code: number): void => done(new LoginError(message, code), false);
    if (session === undefined) return refuse('the connection is gone', SERVER_UNAVAILABLE);
    if (this.#gatehouse.isHalted) return refuse('nothing can be stored at the moment', SERVER_UNAVAILABLE);
    if (client.id.length > CLIENT_ID_MAX) {
      return refuse(`a client id of more than ${CLIENT_ID_MAX} characters`, IDENTIFIER_REJECTED);
    }
    const rights = this.#desk.admit(name, password);
    if (rights === null) {
      this.#log.warn('a login failed', { client: client.id, name, address: session.socket.remoteAddress });
      this.#contacts.refuseLogin(this.#wishes.now(), client.id, name);
      return refuse('bad user name or password', BAD_LOGIN);
    }
    session.clientId = client.id;
    session.rights = rights;
    session.wantsKept = !client.clean;
    // nothing is kept for others: what they left half sent goes when they do
    if (!this.#persistent.has(client.id)) (client as { clean: boolean }).clean = true;
    done(null, true);
  }

  /** A session that is kept would collect messages without bound while its client is away: only for those on the list. */
  #maySubscribe(client: Client, filter: string): boolean {
    const session = this.#sessions.get(client.conn as Socket);
    const wantsKept = session?.wantsKept === true;
    const may =
      session?.rights?.maySubscribe(filter) === true &&
      isValidFilter(filter) &&
      (!wantsKept || this.#persistent.has(client.id));
    if (may) this.#fanOut.add(client.id, client.conn as Socket, filter);
    else {
      this.#log.warn('a subscription was refused', { client: client.id, filter, wantsKept });
      this.#contacts.refuseFilter(this.#wishes.now(), filter, client.id, session?.rights ?? null);
    }
    return may;
  }

  #hold(client: Client | null, packet: PublishPacket, proceed: Continue): void {
    const session = client === null ? undefined : this.#sessions.get(client.conn as Socket);
    if (client === null || session === undefined || this.#isStopping) {
      proceed(new Error('the gateway stops'));
      return;
    }
    this.#gatehouse.hold(session, client, packet, proceed);
  }

  settle(id: number, rejected: readonly number[], buffer: ArrayBuffer | null): void {
    this.#gatehouse.settle(id, rejected, buffer);
  }

  halt(reason: string): void {
    this.#gatehouse.halt(reason);
  }

  resume(): void {
    this.#gatehouse.resume();
  }

  publish(publications: readonly Publication[]): void {
    for (const { topic, payload, retain } of publications) {
      this.#aedes.publish(toPacket(topic, payload, retain), () => undefined);
    }
  }

  async restoreRetained(publications: readonly Publication[]): Promise<void> {
    const { persistence } = this.#aedes as unknown as {
      persistence: { storeRetained(packet: AedesPublishPacket): Promise<void> };
    };
    for (const { topic, payload } of publications) {
      const packet = { ...toPacket(topic, payload, true), brokerId: this.#aedes.id, brokerCounter: 0 };
      await persistence.storeRetained(packet);
    }
  }

  setLogins(logins: readonly Login[] | null): void {
    this.#desk.change(logins);
    for (const session of this.#sessions.values()) {
      if (session.rights !== null && !this.#desk.isValid(session.rights))
        session.cut('its login has changed');
    }
  }

  setTap(tap: ((arrival: Arrival) => void) | null): void {
    this.#gatehouse.tap = tap;
  }

  contacts(topics: ReadonlySet<string>): ContactReport {
    return this.#contacts.report(this.#sessions.values(), topics);
  }

  figures(): IntakeFigures {
    const { batcher, received, acknowledged, denied } = this.#gatehouse;
    const since = batcher.waitingSince;
    return {
      ...{ received, acknowledged, denied },
      clients: this.#aedes.connectedClients,
      isListening: this.#server.listening,
      cut: this.#cuts,
      pendingBytes: batcher.pendingBytes,
      waitingMs: since === null ? 0 : performance.now() - since,
      publicationsUnderWay: this.#fanOut.underWay,
    };
  }

  async stop(): Promise<void> {
    this.#isStopping = true;
    const closed = new Promise<void>((resolve) => this.#server.close(() => resolve()));
    await new Promise<void>((resolve) => this.#aedes.close(resolve));
    for (const socket of this.#sessions.keys()) socket.destroy();
    await closed;
  }
}
