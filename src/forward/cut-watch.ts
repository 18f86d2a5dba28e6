/**
 * Whether it may be a record that makes a receiver cut the connection, as a broker does with what is larger than it allows: no
 * answer names the record, and the same batch would be cut for ever.
 * Source: our choice. Receivers die and come back once or twice in the middle of a batch; a record that is at fault does it each
 * time, while others are taken.
 */
import type { SinkRecord } from './sink.js';

/** So often in succession has a batch that begins with the same record been cut: it is halved from then on. */
const CUTS = 3;

export class CutWatch {
  #first = '';
  #cuts = 0;
  #hasTaken = false;

  /** The connection ended while this batch was on its way. True: it is to be halved. */
  noteCut([first]: readonly SinkRecord[]): boolean {
    const name = first === undefined ? '' : `${first.content.stream} ${first.key} ${first.revision}`;
    if (name !== this.#first) {
      this.#first = name;
      this.#cuts = 0;
      this.#hasTaken = false;
    }
    this.#cuts += 1;
    return this.#cuts >= CUTS;
  }

  /** Something was taken meanwhile: it is not the receiver that is at fault. */
  noteTaken(): void {
    this.#hasTaken = true;
  }

  get hasTaken(): boolean {
    return this.#hasTaken;
  }
}
