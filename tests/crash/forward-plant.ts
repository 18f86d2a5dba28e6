/** The plant of the crash runs of forwarding, and its past: readings that are sent late, because they make many rollups at once. */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { connect, type MqttClient } from 'mqtt';
import { sleep } from '../support/child.js';

export const FORWARD_SITE = 'forwarding';
export const FORWARD_MOTORS = ['f1', 'f2', 'f3', 'f4'] as const;

/** Sinks of every kind, as an integrator would write them, but impatient. `keys`: of the network sinks, by name. */
export function writeForwardPlant(
  folder: string,
  keys: ReadonlyMap<string, Readonly<Record<string, unknown>>>,
): string {
  const file = join(folder, 'forward.yaml');
  const common = { backlogPerS: 5_000, retryMostMs: 1_000, deadlineMs: 5_000 };
  const sinks = [
    ...[...keys].map(([name, own]) => ({ name, ...common, ...own })),
    { name: 'files', kind: 'files', folder: 'out', everyS: 1, ...common },
  ];
  const text = `site: ${FORWARD_SITE}
sinks:
${sinks.map((sink) => `  - ${JSON.stringify(sink)}`).join('\n')}
motors:
${FORWARD_MOTORS.map((motor) => `  ${motor}: { drive: { runState: none }, positions: { de: { intervalMs: 10000, reorderWaitMs: 0 } } }`).join('\n')}
`;
  mkdirSync(folder, { recursive: true });
  writeFileSync(file, text);
  return file;
}

const READING_MS = 10_000;
/** Readings on their way at a time, so that much is forwarded between two kills. */
const WINDOW = 20;

/** A device that sends its past at a pace, and again what was not acknowledged. Times in ms. */
export class PastPublisher {
  readonly #client: MqttClient;
  #isSending = true;
  #isDropped = false;
  #next: number;
  #count = 0;
  readonly done: Promise<void>;

  constructor(
    private readonly motor: string,
    port: number,
    private readonly from: number,
    private readonly to: number,
    private readonly paceMs: number,
  ) {
    this.#next = from;
    this.#client = connect(`mqtt://127.0.0.1:${port}`, {
      clientId: motor,
      reconnectPeriod: 100,
      clean: true,
    });
    this.#client.on('error', () => undefined);
    this.done = this.#run();
  }

  async #run(): Promise<void> {
    const root = `${FORWARD_SITE}/in/${this.motor}`;
    const state = { state: 'running', at: this.from - 1_000, since: this.from - 3_600_000 };
    await this.#send(`${root}/drive/state`, state);
    const open = new Set<Promise<unknown>>();
    for (let seq = 0; this.#isSending && this.#next < this.to; seq++, this.#next += READING_MS) {
      this.#count += 5 + (seq % 7);
      const body = { device: this.motor, boot: 1, seq, count: this.#count, at: this.#next };
      const sent = this.#send(`${root}/de/reading`, body);
      open.add(sent);
      void sent.finally(() => open.delete(sent));
      if (open.size >= WINDOW) await Promise.race(open);
      if (this.paceMs > 0) await sleep(this.paceMs);
    }
    await Promise.all(open);
    await this.#client.endAsync();
  }

  /** Resolves with the acknowledgement, on whichever connection it comes; the client gives some up when one breaks. */
  async #send(topic: string, body: object): Promise<void> {
    while (!this.#isDropped) {
      try {
        await this.#client.publishAsync(topic, JSON.stringify(body), { qos: 1 });
        return;
      } catch {
        await sleep(50);
      }
    }
  }

  /** Sends no more than what is under way. */
  finish(): Promise<void> {
    this.#isSending = false;
    return this.done;
  }

  /** At once, whatever is under way. */
  drop(): void {
    this.#isDropped = true;
    this.#client.end(true);
  }
}
