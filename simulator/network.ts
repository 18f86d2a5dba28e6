/**
 * The way from a client to the gateway. One client's messages keep their order unless the scenario says otherwise; what
 * is dropped is lost for good, as a device that does not wait for its acknowledgement would lose it.
 */
import type { Fault, Message, Send } from './messages.js';
import type { Random } from './random.js';
import type { NetworkScenario } from './scenario.js';

/** What happened on the way, for the truth file. */
export interface Passage {
  dropped: number;
  duplicated: number;
  reordered: number;
  readonly faults: Fault[];
}

const DUPLICATE_DELAY_MS = 3_000;

/** A client's own path. `carry` wants sends in order of time and appends the arrivals. */
export class NetworkPath {
  private lastArrived = 0;

  constructor(
    private readonly network: NetworkScenario,
    private readonly random: Random,
    private readonly passage: Passage,
  ) {}

  carry(send: Send, out: Message[]): void {
    if (send.kind === 'line') {
      out.push(arrive(send, this.inOrder(send.at)));
      return;
    }
    const { random, network, passage } = this;
    if (random.chance(send.kind === 'drive' ? network.driveDropShare : network.dropShare)) {
      passage.dropped += 1;
      passage.faults.push({ kind: send.kind === 'drive' ? 'drive-drop' : 'drop', at: send.at, to: null });
      return;
    }
    const isLate = random.chance(network.reorderShare);
    if (isLate) passage.reordered += 1;
    const delayed = send.at + Math.round(random.exponential(network.delayMs));
    const arrived = isLate
      ? delayed + Math.round(random.between(0.3, 1) * network.reorderMs)
      : this.inOrder(delayed);
    out.push(arrive(send, arrived));
    if (random.chance(network.duplicateShare)) {
      passage.duplicated += 1;
      out.push(arrive(send, arrived + Math.round(random.unit() * DUPLICATE_DELAY_MS)));
    }
    noteDelivery(send);
  }

  private inOrder(at: number): number {
    this.lastArrived = Math.max(this.lastArrived, at);
    return this.lastArrived;
  }
}

function arrive(send: Send, arrived: number): Message {
  const { client, topic, payload, retain } = send;
  if (send.event !== undefined) return { arrived, client, topic, payload, retain, event: send.event };
  if (send.isWill) return { arrived, client, topic, payload, retain, isWill: true };
  return { arrived, client, topic, payload, retain };
}

function noteDelivery({ note }: Send): void {
  if (note === undefined) return;
  const { segment, at, unwrapped } = note;
  segment.delivered += 1;
  if (note.isTorn) return;
  if (segment.firstDelivered === null || at < segment.firstDelivered.at)
    segment.firstDelivered = { at, unwrapped };
  if (segment.lastDelivered === null || at > segment.lastDelivered.at)
    segment.lastDelivered = { at, unwrapped };
}
