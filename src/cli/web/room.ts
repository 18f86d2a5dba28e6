/**
 * The HTTP interface on its own side: the readers of the store, rehearsals, the server and its live stream. What the main thread
 * alone knows is asked through the port, and what becomes durable comes through it.
 */
import type { LiveNews } from '../../api/deps.js';
import { startServer } from '../../api/server.js';
import type { LoginDesk } from '../../api/login-desk.js';
import { openAdviceReader } from '../query/advice-reader.js';
import { openApiReader } from '../query/api-reader.js';
import { openChartsReader } from '../query/charts-reader.js';
import { toFault } from './fault.js';
import { FaultLog } from './fault-log.js';
import { MainCalls } from './main-calls.js';
import type { FromWeb, InForce, ToWeb, WebSettings } from './protocol.js';
import { openRehearsals } from './rehearsal-room.js';
import { StationDesk } from './station-desk.js';
import { makeDeps } from './web-deps.js';

export class WebRoom {
  readonly #post: (message: FromWeb) => void;
  readonly #calls: MainCalls;
  readonly #listeners = new Set<(news: LiveNews) => void>();
  readonly #closers: (() => Promise<void> | void)[] = [];
  #inForce: InForce;
  #clockOffsetMs: number;
  #station: StationDesk | null = null;
  #logins: LoginDesk | null = null;
  #told = 0;

  /** Begins at once, and says through `post` what came of it. */
  constructor(settings: WebSettings, post: (message: FromWeb) => void) {
    this.#post = post;
    this.#inForce = settings.inForce;
    this.#clockOffsetMs = settings.clockOffsetMs;
    this.#calls = new MainCalls(post);
    void this.#start(settings);
  }

  receive(message: ToWeb): void {
    switch (message.kind) {
      case 'answer':
        this.#calls.take(message);
        return;
      case 'news':
        this.#tell(message.news);
        return;
      case 'take':
        this.#inForce = message.inForce;
        this.#station?.take(message.inForce);
        this.#logins?.changeUsers(message.inForce.users);
        this.#post({ kind: 'taken', id: message.id });
        return;
      case 'clock':
        this.#clockOffsetMs = message.offsetMs;
        return;
      case 'stop':
        void this.#close().then(() => this.#post({ kind: 'stopped' }));
    }
  }

  async #start(settings: WebSettings): Promise<void> {
    try {
      const { host, port, access } = settings;
      // nothing is waited for before the live stream listens: no news may come by unheard
      const server = await startServer(this.#open(settings), host, port, {
        ...access,
        users: this.#inForce.users,
      });
      this.#closers.push(() => server.close());
      this.#logins = server.desk;
      // a reload may have come while the address was taken
      this.#logins.changeUsers(this.#inForce.users);
      this.#post({ kind: 'listening', port: server.port });
    } catch (error) {
      const fault = toFault(error);
      await this.#close();
      this.#post({ kind: 'failed', fault });
    }
  }

  #open({ dataDir, version, startedAt, inForce }: WebSettings): ReturnType<typeof makeDeps> {
    const now = (): number => Math.floor(Date.now() + this.#clockOffsetMs);
    const plan = (): InForce['plan'] => this.#inForce.plan;
    const calls = this.#calls;
    const reader = openApiReader(dataDir);
    const advice = openAdviceReader(dataDir);
    const charts = openChartsReader(dataDir);
    this.#closers.push(
      () => reader.close(),
      () => advice.close(),
      () => charts.close(),
    );
    const desk = new StationDesk({
      ...{ inForce, startedAt, dataDir, calls, reader, now },
      compareFile: (configs) => reader.compareFile(configs),
    });
    this.#station = desk;
    const rehearsals = openRehearsals(dataDir, inForce.config.file, plan, now);
    this.#closers.push(
      () => desk.close(),
      () => rehearsals.close(),
    );
    const faults = new FaultLog((facts, text) => this.#post({ kind: 'log', facts, text }));
    return makeDeps({
      ...{ version, timeZone: inForce.config.timeZone, calls, reader, advice, charts, rehearsals, desk },
      ...{ plan, now, log: (facts, text) => faults.error({ ...facts }, text) },
      subscribeLive: (listener) => {
        this.#listeners.add(listener);
        return () => void this.#listeners.delete(listener);
      },
    });
  }

  #tell(news: readonly LiveNews[]): void {
    for (const each of news) for (const listener of this.#listeners) listener(each);
    if (this.#told === 0)
      setImmediate(() => {
        this.#post({ kind: 'told', count: this.#told });
        this.#told = 0;
      });
    this.#told += news.length;
  }

  /** Whoever asks somebody else goes first. */
  async #close(): Promise<void> {
    for (const close of this.#closers.splice(0).reverse()) await close();
    this.#calls.close();
  }
}
