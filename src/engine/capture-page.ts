/**
 * Lines of a capture on their way between two threads. An object costs as much to hand over as its JSON costs to parse, so
 * readings, which are nearly all there is, travel as numbers in two buffers that are given away; what is rare stays whole.
 */
import type { ReadingFact } from '../core/facts.js';
import type { Plan } from '../core/plan.js';
import type { CaptureLine } from './capture-line.js';
import { decodeJson, routeTopic, type Route } from './decode.js';

/** A reading that was decoded on the way. */
export interface ReadingItem {
  readonly kind: 'reading';
  readonly arrived: number;
  readonly client: string;
  readonly fact: ReadingFact;
}

export type CaptureItem = CaptureLine | ReadingItem;

export interface CapturePage {
  readonly count: number;
  /** per line: arrived, count, at, seq, boot, up_ms, temperature; NaN: the message did not carry it */
  readonly numbers: Float64Array<ArrayBuffer>;
  /** per line: kind, then places of sensor, client and device in the table of texts */
  readonly places: Uint32Array<ArrayBuffer>;
  /** the table begins anew with this page */
  readonly resetsTexts: boolean;
  /** to be added to the table */
  readonly texts: readonly string[];
  /** the lines that are no plain readings, in order */
  readonly others: readonly CaptureLine[];
  /** bytes of all files read so far */
  readonly bytes: number;
}

const NUMBERS = 7;
const PLACES = 4;
const OTHER = 0;
const READING = 1;
const CHECK = 2;
/** More texts than this and the table begins anew: a recording may name any number of clients. */
const TEXTS_MAX = 100_000;

function toCell(value: number | null): number {
  return value ?? NaN;
}

function fromCell(cell: number): number | null {
  return Number.isNaN(cell) ? null : cell;
}

/** Packs lines in their order; only what decodes as a reading of a known sensor, and is not retained, is taken apart. */
export class PagePacker {
  readonly #routes = new Map<string, Route>();
  readonly #placeOf = new Map<string, number>();
  #texts: string[] = [];

  constructor(
    private readonly plan: Plan,
    private readonly textsMax = TEXTS_MAX,
  ) {}

  pack(lines: readonly CaptureLine[], bytes: number): CapturePage {
    const resetsTexts = this.#placeOf.size > this.textsMax;
    if (resetsTexts) {
      this.#placeOf.clear();
      this.#routes.clear();
    }
    this.#texts = [];
    const numbers = new Float64Array(lines.length * NUMBERS);
    const places = new Uint32Array(lines.length * PLACES);
    const others: CaptureLine[] = [];
    lines.forEach((line, i) => {
      const fact = this.#decode(line);
      if (fact === null || line.kind !== 'message') {
        places[i * PLACES] = OTHER;
        others.push(line);
        return;
      }
      const { count, at, seq, boot, upMs, temperatureC } = fact;
      const rest = [at, seq, boot, upMs, temperatureC].map(toCell);
      numbers.set([line.arrived, count, ...rest], i * NUMBERS);
      places[i * PLACES] = fact.check ? CHECK : READING;
      places[i * PLACES + 1] = this.#place(fact.sensor);
      places[i * PLACES + 2] = this.#place(line.client);
      places[i * PLACES + 3] = this.#place(fact.device);
    });
    return { count: lines.length, numbers, places, resetsTexts, texts: this.#texts, others, bytes };
  }

  #decode(line: CaptureLine): ReadingFact | null {
    if (line.kind !== 'message' || line.retain || !('json' in line.payload)) return null;
    let route = this.#routes.get(line.topic);
    if (route === undefined) {
      route = routeTopic(line.topic, this.plan);
      this.#routes.set(line.topic, route);
    }
    if (route.kind !== 'reading') return null;
    const found = decodeJson(route, line.payload.json, line.arrived);
    return found.ok && found.fact?.kind === 'reading' ? found.fact : null;
  }

  #place(text: string): number {
    let place = this.#placeOf.get(text);
    if (place === undefined) {
      place = this.#placeOf.size;
      this.#placeOf.set(text, place);
      this.#texts.push(text);
    }
    return place;
  }
}

/** On the way between threads a Buffer becomes a plain array of bytes, which reads otherwise. */
function restoreBytes(line: CaptureLine): CaptureLine {
  if (line.kind !== 'message' || !('bytes' in line.payload)) return line;
  const { buffer, byteOffset, byteLength } = line.payload.bytes;
  return { ...line, payload: { bytes: Buffer.from(buffer, byteOffset, byteLength) } };
}

/** Takes pages apart again, in the order in which they were packed. */
export class PageUnpacker {
  #texts: string[] = [];

  unpack(page: CapturePage): CaptureItem[] {
    const { numbers, places, others } = page;
    if (page.resetsTexts) this.#texts = [];
    for (const text of page.texts) this.#texts.push(text);
    const items: CaptureItem[] = [];
    let other = 0;
    for (let i = 0; i < page.count; i++) {
      const at = i * NUMBERS;
      const names = i * PLACES;
      const kind = places[names]!;
      if (kind === OTHER) {
        items.push(restoreBytes(others[other]!));
        other += 1;
        continue;
      }
      const arrived = numbers[at]!;
      const fact: ReadingFact = {
        kind: 'reading',
        sensor: this.#texts[places[names + 1]!]!,
        device: this.#texts[places[names + 3]!]!,
        count: numbers[at + 1]!,
        at: fromCell(numbers[at + 2]!),
        seq: fromCell(numbers[at + 3]!),
        boot: fromCell(numbers[at + 4]!),
        upMs: fromCell(numbers[at + 5]!),
        temperatureC: fromCell(numbers[at + 6]!),
        check: kind === CHECK,
        receivedAt: arrived,
      };
      items.push({ kind: 'reading', arrived, client: this.#texts[places[names + 2]!]!, fact });
    }
    return items;
  }
}
