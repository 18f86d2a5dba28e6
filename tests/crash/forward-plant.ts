/** The plant of the crash runs of forwarding, and its past: readings that are sent late, because they make many rollups at once. */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { connect, type MqttClient } from 'mqtt';

export const FORWARD_SITE = 'forwarding';
export const FORWARD_MOTORS = ['f1', 'f2', 'f3', 'f4'] as const;

export interface ForwardPorts {
  readonly mqtt: number;
  readonly http: number;
  readonly broker: number;
  readonly receiver: number;
}

/** Sinks of every kind here, as an integrator would write them, but impatient. */
export function writeForwardPlant(folder: string, ports: ForwardPorts): string {
  const file = join(folder, 'forward.yaml');
  const pace = 'backlogPerS: 5000, retryMostMs: 1000, deadlineMs: 3000';
  const text = `site: ${FORWARD_SITE}
sinks:
  - { name: broker, kind: mqtt, url: "mqtt://127.0.0.1:${ports.broker}", ${pace} }
  - { name: events, kind: http, url: "http://127.0.0.1:${ports.receiver}/events", ${pace} }
  - { name: files, kind: files, folder: out, everyS: 1, ${pace} }
motors:
${FORWARD_MOTORS.map((motor) => `  ${motor}: { drive: { runState: none }, positions: { de: { intervalMs: 10000, reorderWaitMs: 0 } } }`).join('\n')}
`;
  mkdirSync(folder, { recursive: true });
  writeFileSync(file, text);
  return file;
}

const READING_MS = 10_000;

/** A device that sends its past at a pace, and again what was not acknowledged. Times in ms. */
export class PastPublisher {
  readonly #client: MqttClient;
  #isSending = true;
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
    for (let seq = 0; this.#isSending && this.#next < this.to; seq++, this.#next += READING_MS) {
      this.#count += 5 + (seq % 7);
      const body = { device: this.motor, boot: 1, seq, count: this.#count, at: this.#next };
      await this.#send(`${root}/de/reading`, body);
      if (this.paceMs > 0) await new Promise((resolve) => setTimeout(resolve, this.paceMs));
    }
    await this.#client.endAsync();
  }

  /** Resolves with the acknowledgement, on whichever connection it comes. */
  #send(topic: string, body: object): Promise<unknown> {
    return this.#client.publishAsync(topic, JSON.stringify(body), { qos: 1 });
  }

  /** Sends no more than what is under way. */
  finish(): Promise<void> {
    this.#isSending = false;
    return this.done;
  }
}
