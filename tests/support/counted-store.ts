/**
 * A store that holds hours of running counts and nothing else, written directly: what comparisons read, for a year of a
 * group in a second instead of the hours that readings would take. Counts are bursty: gamma-mixed Poisson in blocks of 10 min.
 */
import { openDatabase } from '../../src/store/open.js';
import { seedRandom } from './seeded-random.js';

const HOUR_MS = 3_600_000;

export interface CountedSensor {
  readonly sensor: string;
  /** true running rate in an hour (its start, ms), pulses a second, and the bin it ran in; null: it stood still */
  readonly at: (hour: number) => { readonly perS: number; readonly bin: string } | null;
}

export interface StoredEntry {
  readonly motor: string;
  readonly action: string;
  readonly at: number;
  readonly end?: string;
  readonly bearing?: string;
  readonly withdrawn?: boolean;
}

export interface StoredFinding {
  readonly motor: string;
  readonly end: string;
  readonly at: number;
  readonly signs: readonly string[];
}

export interface CountedPlant {
  readonly sensors: readonly CountedSensor[];
  readonly from: number;
  readonly hours: number;
  /** dispersion of the counts of 10 min */
  readonly phi: number;
  readonly seed: number;
  readonly actions?: readonly StoredEntry[];
  readonly findings?: readonly StoredFinding[];
  /** records of the core, by key */
  readonly checkpoints?: Readonly<Record<string, unknown>>;
}

/** Writes the plant's store into `dir`. Actions get the numbers 1, 2, … in their order; findings go on from there. */
export function writeCountedStore(dir: string, plant: CountedPlant): void {
  const opened = openDatabase(dir);
  const { db } = opened;
  const addName = db.prepare(
    'INSERT INTO name (text) VALUES (?) ON CONFLICT DO UPDATE SET text = text RETURNING id',
  );
  const ids = new Map<string, number>();
  const idOf = (text: string): number => {
    const id = ids.get(text) ?? (addName.pluck().get(text) as number);
    ids.set(text, id);
    return id;
  };
  const random = seedRandom(plant.seed);
  db.transaction(() => {
    const addHour = db.prepare('INSERT INTO rollup_bin_1h VALUES (?, ?, ?, ?, ?)');
    const addSpread = db.prepare('INSERT INTO spread VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)');
    for (const { sensor, at } of plant.sensors) {
      for (let i = 0; i < plant.hours; i++) {
        const hour = plant.from + i * HOUR_MS;
        const ran = at(hour);
        if (ran === null) continue;
        const blocks = Array.from({ length: 6 }, () => drawCount(600 * ran.perS, plant.phi, random));
        const pulses = blocks.reduce((sum, each) => sum + each, 0);
        addHour.run(idOf(sensor), hour, idOf(ran.bin), pulses, HOUR_MS);
        addSpread.run(idOf(sensor), hour, idOf(ran.bin), pulses, HOUR_MS, ...spreadOf(blocks, pulses));
      }
    }
    db.exec(`INSERT INTO rollup_bin_1d SELECT sensor, start - start % 86400000 AS day, bin, sum(pulses), sum(ms)
      FROM rollup_bin_1h GROUP BY sensor, day, bin`);
    writeEntries(db, plant, idOf);
    const addCheckpoint = db.prepare('INSERT INTO checkpoint VALUES (?, 1, ?)');
    for (const [key, record] of Object.entries(plant.checkpoints ?? {}))
      addCheckpoint.run(key, JSON.stringify(record));
  })();
  opened.close();
}

function writeEntries(
  db: ReturnType<typeof openDatabase>['db'],
  { actions = [], findings = [] }: CountedPlant,
  idOf: (text: string) => number,
): void {
  const addAction = db.prepare(
    `INSERT INTO maintenance_action (id, motor, at, entered_at, entered_by, note, withdrawn_at, withdrawn_by, withdrawn_note,
     action, place, bearing, breaks) VALUES (?, ?, ?, ?, 'J. Reed', '', ?, ?, ?, ?, ?, ?, 'motor')`,
  );
  actions.forEach(({ motor, action, at, end, bearing, withdrawn }, i) => {
    const back = withdrawn === true ? [at, 'J. Reed', 'wrong motor'] : [null, null, null];
    addAction.run(i + 1, idOf(motor), at, at, ...back, action, end ?? null, bearing ?? null);
  });
  const addFinding = db.prepare(
    `INSERT INTO finding (id, motor, at, entered_at, entered_by, note, place, removed, modes, signs, lubricant)
     VALUES (?, ?, ?, ?, 'J. Reed', '', ?, 0, '[]', ?, '[]')`,
  );
  findings.forEach(({ motor, end, at, signs }, i) => {
    addFinding.run(actions.length + i + 1, idOf(motor), at, at, end, JSON.stringify(signs));
  });
}

/** q0 to q3 and k0 to k3. Within 10 min the blocks are as regular as Poisson counts: bursts last longer than that. */
function spreadOf(blocks: readonly number[], pulses: number): number[] {
  const regular = (count: number): number => (pulses * (count - 1 + pulses)) / 3600;
  const q2 = blocks.reduce((sum, x) => sum + (x * x) / 600, 0);
  return [regular(360), regular(60), q2, (pulses * pulses) / 3600, 360, 60, 6, 1];
}

/** Mean `mean`, variance φ times that; normal above 50, where nothing tells the difference. */
function drawCount(mean: number, phi: number, random: () => number): number {
  const deviate = Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
  if (mean > 50) return Math.max(0, Math.round(mean + deviate * Math.sqrt(phi * mean)));
  const shape = mean / Math.max(phi - 1, 1e-9);
  const mixed =
    phi > 1 ? mean * Math.max(0, 1 - 1 / (9 * shape) + deviate / (3 * Math.sqrt(shape))) ** 3 : mean;
  let left = Math.exp(-mixed);
  let count = 0;
  for (let term = random(); term > left && count < 10_000; count++) {
    term -= left;
    left *= mixed / (count + 1);
  }
  return count;
}
