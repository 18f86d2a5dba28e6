/**
 * Bounds what is kept for the few clients that may keep a session: the library keeps every message of QoS 1 until it is
 * acknowledged, without end. Beyond the bound messages for that client are left out, which is logged, and one that is
 * connected but acknowledges nothing is cut.
 */

const QUEUED_MAX = 10_000;

interface Subscription {
  readonly clientId: string;
}

interface Persistence {
  outgoingEnqueueCombi(subscriptions: Subscription[], packet: unknown): Promise<unknown>;
  outgoingClearMessageId(client: { id: string }, packet: unknown): Promise<unknown>;
}

/** `isFull`: called for each message that a client's queue has no room for. */
export function boundSessionQueues(persistence: Persistence, isFull: (clientId: string) => void): void {
  const queued = new Map<string, number>();
  const enqueue = persistence.outgoingEnqueueCombi.bind(persistence);
  const clear = persistence.outgoingClearMessageId.bind(persistence);
  persistence.outgoingEnqueueCombi = (subscriptions, packet) => {
    const roomy = subscriptions.filter(({ clientId }) => {
      const count = queued.get(clientId) ?? 0;
      if (count < QUEUED_MAX) queued.set(clientId, count + 1);
      else isFull(clientId);
      return count < QUEUED_MAX;
    });
    return enqueue(roomy, packet);
  };
  persistence.outgoingClearMessageId = async (client, packet) => {
    const cleared = await clear(client, packet);
    const count = queued.get(client.id) ?? 0;
    if (cleared !== undefined && cleared !== null) queued.set(client.id, Math.max(0, count - 1));
    return cleared;
  };
}
