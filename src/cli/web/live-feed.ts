/**
 * What becomes durable, on its way to the thread of the HTTP interface: one message for each commit, and no more on their way than
 * a bound. Where that thread does not keep up, events are left out, and once it does again it is told of the gap, so that whoever
 * reads loads everything anew.
 */
import type { LiveEvent, LiveNews } from '../../api/deps.js';

/** Events that were posted and not taken yet; an alarm with its evidence has about 2 kB. Our choice. */
const UNTAKEN_MOST = 8_192;

export class LiveFeed {
  readonly #post: (news: readonly LiveNews[]) => void;
  #gathered: LiveEvent[] = [];
  #untaken = 0;
  #isGap = false;
  #leftOut = 0;

  constructor(post: (news: readonly LiveNews[]) => void) {
    this.#post = post;
  }

  /** Events left out since the start. */
  get leftOut(): number {
    return this.#leftOut;
  }

  tell(event: LiveEvent): void {
    if (this.#isGap || this.#untaken + this.#gathered.length >= UNTAKEN_MOST) {
      this.#isGap = true;
      this.#leftOut += 1;
      return;
    }
    this.#gathered.push(event);
    // the events of a commit are told in one turn
    if (this.#gathered.length === 1) queueMicrotask(() => this.#flush());
  }

  /** So many more were taken. */
  took(count: number): void {
    this.#untaken -= count;
    if (!this.#isGap || this.#untaken > UNTAKEN_MOST / 2) return;
    this.#isGap = false;
    this.#send([{ kind: 'gap' }]);
  }

  /** The thread is another one, which knows of nothing. */
  startAnew(): void {
    this.#gathered = [];
    this.#untaken = 0;
    this.#isGap = false;
  }

  #flush(): void {
    const news = this.#gathered;
    this.#gathered = [];
    if (news.length > 0) this.#send(news);
  }

  #send(news: readonly LiveNews[]): void {
    this.#untaken += news.length;
    this.#post(news);
  }
}
