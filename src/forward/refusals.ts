/**
 * Whether records are at fault, or the receiver refuses everything: a wrong address or a proxy's error page must not empty the
 * outbox into quarantine. Counted over batches, because those of a small plant have a few records each.
 * Source: our choice. Many bad records in a row are believed only of a receiver that is seen to take others.
 */

/** Refused in a row, none taken between them. */
const IN_A_ROW = 20;
/** Twice as many are believed with each attempt between which something was taken; never more than this. */
const IN_A_ROW_MOST = 10_240;

export class Refusals {
  #count = 0;
  #most = IN_A_ROW;
  #hasTaken = false;

  /** Something was taken. */
  noteTaken(): void {
    this.#count = 0;
    this.#hasTaken = true;
  }

  /** One more was refused. True: it may be the receiver, so that nothing of this batch is to be given up yet. */
  noteRefused(): boolean {
    this.#count += 1;
    return this.#count >= this.#most;
  }

  /** A batch was put off because of it. What was refused in it is not given up, and comes again. */
  notePutOff(): void {
    if (this.#hasTaken) {
      this.#most = Math.min(IN_A_ROW_MOST, this.#most * 2);
      this.#count = 0;
    }
    this.#hasTaken = false;
  }

  /** A batch had both: the bad ones that stood together are behind. */
  noteMixed(): void {
    this.#most = IN_A_ROW;
  }
}
