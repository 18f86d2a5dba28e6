/**
 * A store that holds minutes and hours of running counts and nothing finer, written directly: what is left of a past whose
 * increments have gone, and a month of a plant in seconds. Counts are Poisson around what is asked for.
 */
import { openDatabase } from '../../src/store/open.js';
import { seedRandom } from './seeded-random.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;

export interface MinuteSensor {
  readonly sensor: string;
  /** true running rate in a minute (its start, ms), pulses a minute; null: it stands, and counts nothing */
  readonly at: (minute: number) => number | null;
}

export interface StoredAlarmEntry {
  readonly at: number;
  readonly subject: string;
  readonly what: 'raised' | 'returned' | 'acknowledged' | 'confirmed';
  readonly who?: string;
  readonly configuration: string;
}

export interface MinutePlant {
  readonly sensors: readonly MinuteSensor[];
  /** whole hour */
  readonly from: number;
  readonly hours: number;
  readonly seed: number;
  readonly journal?: readonly StoredAlarmEntry[];
  /** an inspection that found fluting */
  readonly findings?: readonly { readonly motor: string; readonly end: string; readonly at: number }[];
}

export function writeMinuteStore(dir: string, plant: MinutePlant): void {
  const opened = openDatabase(dir);
  const { db } = opened;
  const addName = db
    .prepare('INSERT INTO name (text) VALUES (?) ON CONFLICT DO UPDATE SET text = text RETURNING id')
    .pluck();
  const idOf = (text: string): number => addName.get(text) as number;
  const all = idOf('all');
  const zeros = (n: number): number[] => new Array<number>(n).fill(0);
  const addSums = (table: string) => {
    const insert = db.prepare(
      `INSERT INTO ${table} VALUES (?, ?, 0, ${zeros(15)
        .fill(0)
        .map(() => '?')
        .join(', ')})`,
    );
    return (sensor: number, start: number, pulses: number, ms: number): void => {
      insert.run(sensor, start, ...zeros(5), pulses, 0, ...zeros(5), ms, 0, 0);
    };
  };
  db.transaction(() => {
    const [addMinute, addHour] = [addSums('rollup_1m'), addSums('rollup_1h')];
    const addSpread = db.prepare('INSERT INTO spread VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)');
    for (const { sensor, at } of plant.sensors) {
      const random = seedRandom(plant.seed + sensor.length + sensor.charCodeAt(sensor.length - 4));
      const id = idOf(sensor);
      for (let hour = plant.from; hour < plant.from + plant.hours * HOUR_MS; hour += HOUR_MS) {
        const counts: number[] = [];
        for (let minute = hour; minute < hour + HOUR_MS; minute += MINUTE_MS) {
          const rate = at(minute);
          if (rate === null) continue;
          const pulses = drawCount(rate, random);
          counts.push(pulses);
          addMinute(id, minute, pulses, MINUTE_MS);
        }
        if (counts.length === 0) continue;
        const pulses = counts.reduce((sum, each) => sum + each, 0);
        addHour(id, hour, pulses, counts.length * MINUTE_MS);
        addSpread.run(id, hour, all, pulses, counts.length * MINUTE_MS, ...spreadOf(counts));
      }
    }
    writeEntries(db, plant, idOf);
  })();
  opened.close();
}

function writeEntries(
  db: ReturnType<typeof openDatabase>['db'],
  { journal = [], findings = [] }: MinutePlant,
  idOf: (text: string) => number,
): void {
  const add = db.prepare(
    `INSERT INTO journal (at, detected_at, kind, subject, before, after, who, text, evidence, what, annunciated, configuration)
     VALUES (?, ?, ?, ?, '', '', ?, '', NULL, ?, 1, ?)`,
  );
  for (const { at, subject, what, who = '', configuration } of journal)
    add.run(at, at, who === '' ? 'alarm' : 'operator', subject, who, what, configuration);
  const addFinding = db.prepare(
    `INSERT INTO finding (motor, at, entered_at, entered_by, note, place, removed, modes, signs, lubricant)
     VALUES (?, ?, ?, 'J. Reed', '', ?, 0, '[]', '["fluting"]', '[]')`,
  );
  for (const { motor, end, at } of findings) addFinding.run(idOf(motor), at, at, end);
}

/** Blocks of 10 s as regular as their minute; of 1 min, 10 min and 1 h as they were drawn. */
function spreadOf(counts: readonly number[]): number[] {
  const q = [0, 0, 0, 0];
  const k = [6 * counts.length, 0, 0, 0];
  [1, 10, 60].forEach((length, b) => {
    for (let i = 0; i < counts.length; i += length) {
      const block = counts.slice(i, i + length);
      const pulses = block.reduce((sum, each) => sum + each, 0);
      q[b + 1]! += pulses ** 2 / (60 * block.length);
      k[b + 1]! += 1;
    }
  });
  q[0] = q[1]!;
  return [...q, ...k];
}

/** Normal above 30, where nothing here tells the difference. */
function drawCount(mean: number, random: () => number): number {
  if (mean > 30) {
    const deviate = Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
    return Math.max(0, Math.round(mean + deviate * Math.sqrt(mean)));
  }
  let count = 0;
  for (let left = random(), term = Math.exp(-mean); left > term; count++) {
    left -= term;
    term *= mean / (count + 1);
  }
  return count;
}
