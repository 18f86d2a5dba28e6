/**
 * Publishes batch after batch with QoS 1, of all of them at most so many without their PUBACK. Texts are made as the window
 * has room, once for all PUBACKs that came in at a time, so that a socket is written to once for many messages.
 */
import type { Sent, SinkRecord } from './sink.js';

export interface Publication {
  readonly topic: string;
  readonly payload: string;
}

/** What is used of a client of MQTT. */
interface Client {
  readonly connected: boolean;
  publish(
    topic: string,
    payload: string,
    options: { readonly qos: 1 },
    done: (error?: Error | null) => void,
  ): unknown;
  once(event: 'close', listener: () => void): unknown;
}

interface Batch {
  readonly records: readonly SinkRecord[];
  /** index of the first that is not sent */
  next: number;
  unacknowledged: number;
  finish(sent: Sent): void;
}

export class PublishWindow {
  /** those with something to send or to wait for, oldest first */
  readonly #batches: Batch[] = [];
  #waiting = 0;
  #isFilling = false;

  constructor(
    private readonly client: Client,
    private readonly inFlightMax: number,
    private readonly write: (record: SinkRecord) => Publication,
  ) {
    client.once('close', () => this.#lose());
  }

  /** Resolves always: taken when every record has its PUBACK. When `signal` aborts the caller destroys the connection. */
  publish(records: readonly SinkRecord[], signal: AbortSignal): Promise<Sent> {
    return new Promise((resolve) => {
      const onAbort = (): void => batch.finish(later('no PUBACK within the deadline'));
      const batch: Batch = {
        ...{ records, next: 0, unacknowledged: 0 },
        finish: (sent) => {
          signal.removeEventListener('abort', onAbort);
          const at = this.#batches.indexOf(batch);
          if (at >= 0) this.#batches.splice(at, 1);
          resolve(sent);
        },
      };
      if (!this.client.connected) batch.finish(later('the broker closed the connection'));
      else if (records.length === 0) batch.finish({ outcome: 'taken' });
      else {
        signal.addEventListener('abort', onAbort);
        this.#batches.push(batch);
        this.#fill();
      }
    });
  }

  /** The caller gives the connection up: nothing of what is on its way is to blame. */
  end(reason: string): void {
    for (const batch of [...this.#batches]) batch.finish(later(reason));
  }

  #lose(): void {
    for (const batch of [...this.#batches]) {
      const isOnItsWay = batch.unacknowledged > 0;
      batch.finish({ ...later('the broker closed the connection'), ...(isOnItsWay ? { isCut: true } : {}) });
    }
  }

  #fill(): void {
    for (const batch of [...this.#batches])
      while (batch.next < batch.records.length && this.#waiting < this.inFlightMax)
        this.#send(batch, batch.records[batch.next++]!);
  }

  #send(batch: Batch, record: SinkRecord): void {
    this.#waiting += 1;
    batch.unacknowledged += 1;
    const { topic, payload } = this.write(record);
    this.client.publish(topic, payload, { qos: 1 }, (error) => {
      this.#waiting -= 1;
      batch.unacknowledged -= 1;
      if (error) batch.finish(later(error.message));
      else if (batch.next >= batch.records.length && batch.unacknowledged === 0)
        batch.finish({ outcome: 'taken' });
      this.#fillSoon();
    });
  }

  #fillSoon(): void {
    if (this.#isFilling) return;
    this.#isFilling = true;
    setImmediate(() => {
      this.#isFilling = false;
      this.#fill();
    });
  }
}

function later(reason: string): Extract<Sent, { outcome: 'later' }> {
  return { outcome: 'later', reason, retryAfterMs: null };
}
