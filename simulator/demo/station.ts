/**
 * The station of the demo: simulated once, from three hours ago until some minutes from now. What lies before now is
 * written as a capture, the rest is published live when its time comes.
 */
import { existsSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { writeCapture } from '../capture.js';
import { writeGatewayConfig } from '../gateway-config.js';
import type { Message } from '../messages.js';
import { Publisher, publishPaced } from '../publisher.js';
import { readScenario } from '../scenario-file.js';
import { simulate } from '../simulation.js';

/** from the built program, and from the sources */
const SCENARIOS = ['../../../', '../../'].map((up) =>
  fileURLToPath(new URL(`${up}config/scenarios/tarn-hollow.yaml`, import.meta.url)),
);
const SEED = 7;
const PAST_HOURS = 3;
const FUTURE_HOURS = 0.2;
const KEPT_FUTURE_HOURS = 12;
/** the gateway's clock in the recording, so that replay ends at its last message and no later */
const TICK_MS = 1_000;
const HOUR_MS = 3_600_000;
const FINISH_MS = 5_000;

export interface Station {
  readonly site: string;
  readonly timeZone: string;
  readonly pastHours: number;
  /** file of the configuration */
  readonly config: string;
  readonly dataDir: string;
  /** file of the capture */
  readonly pastCapture: string;
  /** begins to publish what arrives from now on; resolves when the first messages are on their way */
  startPublishing(mqtt: string): Promise<void>;
  /** messages sent and answered so far in the live part */
  tally(): { readonly published: number; readonly acknowledged: number };
  /** resolves when the simulated future is used up, or on SIGINT or SIGTERM */
  keepPublishing(): Promise<void>;
  stopPublishing(): Promise<void>;
}

/** `folder`: where its files go. `keep`: whether it has to live for hours. `pastHours`: how much of it lies behind. */
export async function prepareStation(
  folder: string,
  keep: boolean,
  pastHours = PAST_HOURS,
): Promise<Station> {
  const scenario = { ...readScenario(SCENARIOS.find(existsSync) ?? SCENARIOS[0]!), ticksMs: TICK_MS };
  const now = Date.now();
  const start = now - pastHours * HOUR_MS;
  const hours = pastHours + (keep ? KEPT_FUTURE_HOURS : FUTURE_HOURS);
  const { messages } = simulate(scenario, SEED, hours, { start });
  const firstLive = messages.findIndex((message) => message.arrived >= now);
  const past = messages.slice(0, firstLive);
  const future = messages.slice(firstLive);
  const config = join(folder, 'tarn-hollow.yaml');
  const pastCapture = join(folder, 'past.ndjson.gz');
  writeFileSync(config, writeGatewayConfig(scenario));
  await writeCapture(pastCapture, [past]);
  const publishing = new Publishing(past, future, now);
  return {
    site: scenario.site,
    timeZone: scenario.timeZone,
    pastHours,
    config,
    dataDir: join(folder, 'data'),
    pastCapture,
    startPublishing: (mqtt) => publishing.start(mqtt),
    tally: () => publishing.tally(),
    keepPublishing: () => publishing.keep(),
    stopPublishing: () => publishing.stop(),
  };
}

/** The live part of the station's life. */
class Publishing {
  readonly #stop = new AbortController();
  #publisher: Publisher | null = null;
  #running: Promise<void> = Promise.resolve();

  constructor(
    readonly past: readonly Message[],
    readonly future: readonly Message[],
    readonly from: number,
  ) {}

  async start(mqtt: string): Promise<void> {
    const publisher = new Publisher(mqtt);
    this.#publisher = publisher;
    for (const message of lastRetained(this.past)) publisher.publish(message);
    const late = Date.now() - this.from;
    const pace = { from: this.from + late, speed: 1 };
    this.#running = publishPaced(publisher, [this.future], pace, this.#stop.signal);
    await publisher.relax();
  }

  tally(): { readonly published: number; readonly acknowledged: number } {
    return this.#publisher?.tally ?? { published: 0, acknowledged: 0 };
  }

  async keep(): Promise<void> {
    for (const name of ['SIGINT', 'SIGTERM'] as const) process.once(name, () => this.#stop.abort());
    await this.#running;
  }

  async stop(): Promise<void> {
    this.#stop.abort();
    await this.#running;
    await this.#publisher?.finish(FINISH_MS);
    this.#publisher = null;
  }
}

/** What devices and drive reporters say again when they connect: their last retained messages. */
function lastRetained(messages: readonly Message[]): Message[] {
  const last = new Map<string, Message>();
  for (const message of messages) {
    if (message.event === undefined && message.retain && message.isWill !== true)
      last.set(message.topic, message);
  }
  return [...last.values()];
}
