/**
 * The latest of everything on the gateway's side, and for each server what of it that server has not had yet. Its size is
 * that of the plant, however long a server does not listen.
 */
import {
  markAbsent,
  mergeDrives,
  mergeRates,
  type AlarmNews,
  type DriveNews,
  type HeardNews,
  type News,
  type RateNews,
} from './news.js';

type Part = keyof News;
const PARTS: readonly Part[] = ['heard', 'drives', 'alarms', 'rates'];
/** Rows of one message; a large plant comes in several. */
const ROWS_MAX = 500;

export class NewsBoard {
  readonly #rows = {
    rates: new Map<string, RateNews>(),
    drives: new Map<string, DriveNews>(),
    alarms: new Map<string, AlarmNews>(),
    heard: new Map<string, HeardNews>(),
  };
  readonly #feeds = new Set<NewsFeed>();

  takeRate(rate: RateNews): void {
    const { rates } = this.#rows;
    rates.set(rate.sensor, mergeRates(rates.get(rate.sensor), rate));
    this.#mark('rates', rate.sensor);
  }

  takeDrive(drive: DriveNews): void {
    const { drives } = this.#rows;
    drives.set(drive.motor, mergeDrives(drives.get(drive.motor), drive));
    this.#mark('drives', drive.motor);
  }

  /** `at`: when its reporter went absent. */
  takeAbsence(motor: string, at: number): void {
    const drive = this.#rows.drives.get(motor);
    if (drive === undefined) return;
    this.#rows.drives.set(motor, markAbsent(drive, at));
    this.#mark('drives', motor);
  }

  takeAlarm(alarm: AlarmNews): void {
    this.#rows.alarms.set(alarm.id, alarm);
    this.#mark('alarms', alarm.id);
  }

  /** From the store at the start; what was heard live since is newer. */
  takeFirst(first: Pick<News, 'drives' | 'alarms' | 'heard'>): void {
    for (const drive of first.drives) this.takeDrive(drive);
    for (const alarm of first.alarms) if (!this.#rows.alarms.has(alarm.id)) this.takeAlarm(alarm);
    for (const heard of first.heard) {
      this.#rows.heard.set(heard.sensor, heard);
      this.#mark('heard', heard.sensor);
    }
  }

  /** Motors and sensors that the configuration names no more are forgotten. */
  keepOnly(known: {
    motors: ReadonlySet<string>;
    sensors: ReadonlySet<string>;
    alarms: ReadonlySet<string>;
  }): void {
    const { rates, drives, alarms, heard } = this.#rows;
    for (const key of rates.keys()) if (!known.sensors.has(key)) rates.delete(key);
    for (const key of heard.keys()) if (!known.sensors.has(key)) heard.delete(key);
    for (const key of drives.keys()) if (!known.motors.has(key)) drives.delete(key);
    for (const key of alarms.keys()) if (!known.alarms.has(key)) alarms.delete(key);
  }

  /** Begins with everything. `onNews`: something waits that did not before. */
  open(onNews: () => void): NewsFeed {
    const feed = new NewsFeed(this.#rows, onNews, () => this.#feeds.delete(feed));
    this.#feeds.add(feed);
    return feed;
  }

  #mark(part: Part, key: string): void {
    for (const feed of this.#feeds) feed.mark(part, key);
  }
}

export class NewsFeed {
  readonly #rows: { readonly [P in Part]: ReadonlyMap<string, News[P][number]> };
  readonly #onNews: () => void;
  readonly #waiting: Record<Part, Set<string>>;
  readonly close: () => void;

  constructor(
    rows: { readonly [P in Part]: ReadonlyMap<string, News[P][number]> },
    onNews: () => void,
    close: () => void,
  ) {
    this.#rows = rows;
    this.#onNews = onNews;
    this.close = close;
    this.#waiting = {
      rates: new Set(rows.rates.keys()),
      drives: new Set(rows.drives.keys()),
      alarms: new Set(rows.alarms.keys()),
      heard: new Set(rows.heard.keys()),
    };
  }

  mark(part: Part, key: string): void {
    this.#waiting[part].add(key);
    this.#onNews();
  }

  get isEmpty(): boolean {
    return PARTS.every((part) => this.#waiting[part].size === 0);
  }

  /** Some of what waits, each subject as it stands now. */
  drain(): News {
    let room = ROWS_MAX;
    const take = <P extends Part>(part: P): News[P][number][] => {
      const taken: News[P][number][] = [];
      for (const key of this.#waiting[part]) {
        if (room === 0) break;
        room--;
        this.#waiting[part].delete(key);
        const row = this.#rows[part].get(key);
        if (row !== undefined) taken.push(row);
      }
      return taken;
    };
    return { heard: take('heard'), drives: take('drives'), alarms: take('alarms'), rates: take('rates') };
  }
}
