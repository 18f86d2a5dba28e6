/** The process of the Modbus TCP server: beats in, registers out. */
import { FedClock } from './fed-clock.js';
import { explainListening } from './listen-fault.js';
import { ModbusServer } from './modbus-server.js';
import type { ModbusSettings } from './modbus-settings.js';
import { Picture } from './picture.js';
import { FEED_LOST_MS } from './plant.js';
import { drawRegisters } from './register-image.js';
import { layOutMap, type RegisterMap } from './register-map.js';
import { GatewayLink, type ServerLink } from './server-link.js';
import type { Beat } from './server-protocol.js';
import type { WordOrder } from './word-order.js';

/** A picture this old is drawn anew; ages are in seconds. */
const DRAWN_MS = 200;
const SECOND_MS = 1_000;

class ModbusProcess {
  #server: ModbusServer | null = null;
  #picture: Picture | null = null;
  #map: RegisterMap | null = null;
  #order: WordOrder = 'ABCD';
  #clock = new FedClock();
  #beats = 0;
  /** `at`: by the monotonic clock */
  #drawn: { at: number; image: Buffer } | null = null;

  async start(settings: ModbusSettings, { clock }: ServerLink): Promise<{ port: number; says: string }> {
    const { host, port, clientsMax, idleMs, unitId, plant, slots, positions } = settings;
    this.#clock = clock;
    this.#order = settings.wordOrder;
    this.#picture = new Picture(plant);
    this.#map = layOutMap(plant, new Map(slots), positions);
    this.#server = new ModbusServer({ clientsMax, idleMs, unitId }, () => this.#draw());
    const taken = await this.#server.listen(host, port).catch((error: unknown) => {
      throw explainListening(error, 'modbus.listen', { host, port });
    });
    setInterval(() => this.#countSecond(), SECOND_MS);
    const at = host.includes(':') ? `[${host}]:${taken}` : `${host}:${taken}`;
    return { port: taken, says: `Modbus TCP on ${at}, read-only, ${this.#map.length} registers` };
  }

  beat({ isReady, isLoaded, revision, news }: Beat): void {
    if (this.#picture === null) return;
    this.#picture.take(news);
    this.#picture.feed = { beatAt: this.#clock.beatAt(), isReady, isLoaded, revision };
    this.#drawn = null;
  }

  figures(): Record<string, number> {
    return this.#server === null ? {} : { ...this.#server.figures };
  }

  async stop(): Promise<void> {
    await this.#server?.close();
  }

  #countSecond(): void {
    const beatAt = this.#clock.beatAt();
    if (beatAt !== null && this.#clock.now() - beatAt <= FEED_LOST_MS) this.#beats++;
  }

  #draw(): Buffer {
    const at = this.#clock.steady();
    if (this.#drawn !== null && at - this.#drawn.at < DRAWN_MS) return this.#drawn.image;
    const picture = this.#picture!;
    picture.feed = { ...picture.feed, beatAt: this.#clock.beatAt() };
    const times = { upMs: this.#clock.upMs(), beats: this.#beats };
    const image = drawRegisters(this.#map!, picture, this.#order, times, this.#clock.now());
    this.#drawn = { at, image };
    return image;
  }
}

const own = new ModbusProcess();
new GatewayLink<ModbusSettings>({
  start: (settings, link) => own.start(settings, link),
  beat: (beat) => own.beat(beat),
  figures: () => own.figures(),
  stop: () => own.stop(),
});
