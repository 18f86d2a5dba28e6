/** The notifier beside the gateway: started when there are routes, given another configuration at a reload, ended with them. */
import type { NotifyDesk, NotifyStatus } from '../api/notify-desk.js';
import type { Config } from '../config/config.js';
import { describeBy, readNotifySettings } from '../gateway-notify.js';
import type { Gateway } from '../gateway.js';
import type { NotifySettings } from '../notify/channels.js';
import { Notifier, type NotifyLog } from '../notify/notifier.js';
import { openNewsReader, type NewsReader } from './query/news-reader.js';

export interface DeskWishes {
  readonly config: Config;
  readonly gateway: Pick<Gateway, 'keep' | 'plan' | 'subscribeLive'>;
  readonly dataDir: string;
  now(this: void): number;
  readonly log: NotifyLog;
}

/** Kept when no route is configured, so that routes of a later day do not begin with the past. */
const NOTHING = '{}';

export class StationNotifyDesk implements Pick<NotifyDesk, 'test'> {
  readonly #wishes: DeskWishes;
  readonly #reader: NewsReader;
  readonly #unsubscribe: () => void;
  #config: Config;
  #notifier: Notifier | null = null;

  /** Throws when a secret cannot be had. */
  constructor(wishes: DeskWishes) {
    this.#wishes = wishes;
    this.#config = wishes.config;
    const { settings } = this.#read(wishes.config);
    this.#reader = openNewsReader(wishes.dataDir);
    this.#unsubscribe = wishes.gateway.subscribeLive(({ kind }) => {
      if (kind === 'journal') this.#notifier?.look();
    });
    void this.#take(settings);
  }

  /** Throws when a secret cannot be had; nothing is changed before the returned function is called. */
  prepare(config: Config): () => Promise<void> {
    const { settings } = this.#read(config);
    return async () => {
      this.#config = config;
      await this.#take(settings);
    };
  }

  status(): NotifyStatus {
    return this.#notifier?.status() ?? { routes: [], channels: [] };
  }

  test(route: string): ReturnType<NotifyDesk['test']> {
    return this.#notifier?.test(route) ?? Promise.resolve(null);
  }

  /** While the engine still runs, because what was sent is kept first. */
  async stop(): Promise<void> {
    this.#unsubscribe();
    await this.#notifier?.stop();
    await this.#reader.close();
  }

  #read(config: Config): { settings: NotifySettings } {
    const { settings, warnings } = readNotifySettings(config);
    for (const warning of warnings) this.#wishes.log.warn({}, warning);
    return { settings };
  }

  async #take(settings: NotifySettings): Promise<void> {
    if (settings.plan.routes.size > 0) {
      if (this.#notifier === null) this.#notifier = this.#start(settings);
      else await this.#notifier.reconfigure(settings);
      return;
    }
    const notifier = this.#notifier;
    this.#notifier = null;
    await notifier?.stop();
    await this.#forget();
  }

  async #forget(): Promise<void> {
    try {
      const kept = await this.#reader.readKept();
      if (kept !== null && kept !== NOTHING)
        await this.#wishes.gateway.keep({ key: 'notify', json: NOTHING, notes: [] });
    } catch (error) {
      this.#wishes.log.warn({ err: error }, 'the record of notification could not be put away');
    }
  }

  #start(settings: NotifySettings): Notifier {
    const { gateway, now, log } = this.#wishes;
    return new Notifier({
      ...{ settings, now, log, random: Math.random },
      describe: describeBy(
        () => gateway.plan(),
        () => this.#config.notify.respondMs,
      ),
      readKept: () => this.#reader.readKept(),
      readHead: (at) => this.#reader.readHead(at),
      readAfter: (id, limit) => this.#reader.readAfter(id, limit),
      readEntries: (ids) => this.#reader.readEntries(ids),
      keep: (json, notes) => gateway.keep({ key: 'notify', json, notes }),
    });
  }
}
