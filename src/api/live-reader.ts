/** One reader of the live stream: goes at its own pace, from its own place, and is never queued for beyond its socket. */
import type { ApiDeps } from './deps.js';
import { writeEvent, writePlace, type ToldEvent } from './live-body.js';
import type { Kept, LiveHub } from './live-hub.js';
import { writeMark, type LiveMark } from './live-mark.js';
import { refill, writeRefill } from './live-refill.js';

/** Unsent bytes beyond which nothing more is written until they are gone. */
const BUFFER_BYTES_MOST = 262_144;
/** Events written at once. */
const BURST = 256;

/** The response, as far as it is needed. */
export interface Outlet {
  readonly writableLength: number;
  readonly writableEnded: boolean;
  write(text: string): unknown;
  end(): unknown;
  once(event: 'drain', then: () => void): unknown;
}

export class LiveReader {
  readonly #hub: LiveHub;
  readonly #deps: Pick<ApiDeps, 'reader' | 'plan' | 'logFault'>;
  readonly #outlet: Outlet;
  readonly #isWall: boolean;
  #place: LiveMark;
  /** entries up to this number came from the store; null: none did */
  #refilledTo: number | null = null;
  #isWaiting = false;
  #isFilling = false;

  /** `isWall`: a screen without a login, which is told neither the journal nor who did what. */
  constructor(
    hub: LiveHub,
    deps: Pick<ApiDeps, 'reader' | 'plan' | 'logFault'>,
    outlet: Outlet,
    isWall: boolean,
  ) {
    this.#hub = hub;
    this.#deps = deps;
    this.#outlet = outlet;
    this.#isWall = isWall;
    this.#place = hub.mark;
  }

  /** `from`: where it was; null: that was not understood; `now`: it begins. */
  begin(from: LiveMark | null | 'now'): void {
    if (from === 'now') {
      this.#outlet.write(writePlace(writeMark(this.#place)));
    } else if (from !== null && from.epoch === this.#hub.epoch && from.seq <= this.#place.seq) {
      this.#place = from;
      this.pump();
    } else {
      // an event of this start that was not yet: the id is made up
      void this.#fill(from?.epoch === this.#hub.epoch ? null : from);
    }
  }

  /** Writes what is new, as far as the socket takes it. */
  pump(): void {
    while (!this.#isWaiting && !this.#isFilling && !this.#outlet.writableEnded) {
      const news = this.#hub.after(this.#place.seq, BURST);
      if (news === null) void this.#fill(this.#place);
      else if (news.length > 0) this.#write(news);
      if (news === null || news.length === 0) return;
    }
  }

  #write(news: readonly Kept[]): void {
    const own = news.filter(
      ({ event }) => !(this.#isWall && event.kind === 'journal') && !this.#isRefilled(event),
    );
    this.#place = news[news.length - 1]!.mark;
    if (own.length > 0) this.#outlet.write(own.map((kept) => this.#textOf(kept)).join(''));
    if (this.#outlet.writableLength <= BUFFER_BYTES_MOST) return;
    this.#isWaiting = true;
    this.#outlet.once('drain', () => {
      this.#isWaiting = false;
      this.pump();
    });
  }

  #textOf(kept: Kept): string {
    if (!this.#isWall) return this.#hub.textOf(kept);
    return writeEvent(kept.event, writeMark(kept.mark), this.#deps.plan(), true);
  }

  #isRefilled(event: ToldEvent): boolean {
    return event.kind === 'journal' && event.id !== null && event.id <= (this.#refilledTo ?? 0);
  }

  /** What happens meanwhile stays in the ring, and comes after. */
  async #fill(from: LiveMark | null): Promise<void> {
    this.#isFilling = true;
    const { mark } = this.#hub;
    try {
      // nobody without a login has the store read for them: a wall loads what it shows anew
      const found = await refill(this.#isWall ? null : from, this.#hub.epoch, this.#deps);
      this.#refilledTo = found.journalId;
      this.#place = { ...mark, journalId: found.journalId ?? mark.journalId };
      if (!this.#outlet.writableEnded)
        this.#outlet.write(writeRefill(found, from, this.#place, this.#deps.plan()));
      this.#isFilling = false;
      this.pump();
    } catch (error) {
      // it comes again with the id that it has, and the store may answer then
      this.#deps.logFault(error, 'live');
      if (!this.#outlet.writableEnded) this.#outlet.end();
    }
  }
}
