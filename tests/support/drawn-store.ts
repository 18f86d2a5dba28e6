/**
 * A store with all that pictures are drawn from, written directly: sums of every class and bin over minutes to hours, spreads,
 * starts and stops, drive messages, journal, actions. A year of a group of pumps in seconds. Each pump runs from 06:00 to
 * 22:00 UTC, by day fast and in the evening slow, and counts twice as much when fast.
 */
import { openDatabase } from '../../src/store/open.js';
import { seedRandom } from './seeded-random.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;

type Database = ReturnType<typeof openDatabase>['db'];

export interface DrawnPlant {
  readonly motors: readonly {
    readonly motor: string;
    readonly factor: number;
    /** false: no minutes of this one, only longer rollups; absent: as the others */
    readonly hasMinutes?: boolean;
  }[];
  /** start of a day, UTC */
  readonly from: number;
  readonly days: number;
  /** newest days of which minutes are kept too, and drive messages */
  readonly minuteDays: number;
  readonly seed: number;
  /** a baseline learnt over the first 20 days, as the core keeps it */
  readonly hasBaseline: boolean;
}

export const FAST_BIN = 'speed 1200..';
export const SLOW_BIN = 'speed ..1200';
/** true running rate of `de` at factor 1, pulses a minute */
export const FAST_PER_MIN = 40;
export const SLOW_PER_MIN = 20;
const START_HOUR = 6;
const SLOW_HOUR = 18;
const STOP_HOUR = 22;
const POSITIONS = [
  ['de', 1],
  ['nde', 0.4],
] as const;

/** Pulses and ms by class, places 1 to 7, of the minute; running is 6, background 7, transient 4. */
interface Minute {
  readonly p: number[];
  readonly m: number[];
  readonly bin: string;
}

export function writeDrawnStore(dir: string, plant: DrawnPlant): void {
  const opened = openDatabase(dir);
  const { db } = opened;
  const addName = db
    .prepare('INSERT INTO name (text) VALUES (?) ON CONFLICT DO UPDATE SET text = text RETURNING id')
    .pluck();
  const idOf = (text: string): number => addName.get(text) as number;
  db.transaction(() => {
    for (const { motor, factor, hasMinutes = true } of plant.motors) {
      for (const [position, share] of POSITIONS)
        writeSensor(db, plant, {
          id: idOf(`${motor}/${position}`),
          factor: factor * share,
          hasMinutes,
          idOf,
        });
      writeStarts(db, plant, motor, idOf);
      writeDrive(db, plant, idOf(motor));
      writeMarks(db, plant, motor, idOf(motor));
      if (plant.hasBaseline) writeBaselines(db, plant, motor);
    }
    db.exec(`INSERT INTO rollup_bin_1d SELECT sensor, start - start % ${DAY_MS} AS day, bin, sum(pulses), sum(ms)
      FROM rollup_bin_1h GROUP BY sensor, day, bin`);
  })();
  opened.close();
}

interface Sensor {
  readonly id: number;
  readonly factor: number;
  readonly hasMinutes: boolean;
  readonly idOf: (text: string) => number;
}

function writeSensor(db: Database, plant: DrawnPlant, { id, factor, hasMinutes, idOf }: Sensor): void {
  const random = seedRandom(plant.seed + id);
  const [add1m, add10m, add1h] = ['rollup_1m', 'rollup_10m', 'rollup_1h'].map((table) =>
    db.prepare(`INSERT INTO ${table} VALUES (${new Array(18).fill('?').join(', ')})`),
  );
  const [addBin1m, addBin10m, addBin1h] = ['1m', '10m', '1h'].map((period) =>
    db.prepare(`INSERT INTO rollup_bin_${period} VALUES (?, ?, ?, ?, ?)`),
  );
  const addSpread = db.prepare('INSERT INTO spread VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)');
  db.prepare('INSERT INTO chain (sensor, device, boot) VALUES (?, ?, 1)').run(id, `SN-${id}`);
  const minutesFrom = plant.from + (plant.days - plant.minuteDays) * DAY_MS;
  for (let hour = plant.from; hour < plant.from + plant.days * DAY_MS; hour += HOUR_MS) {
    const minutes = Array.from({ length: 60 }, (_, i) => drawMinute(hour + i * MINUTE_MS, factor, random));
    const { bin } = minutes[30]!;
    if (hasMinutes && hour >= minutesFrom) {
      minutes.forEach((minute, i) => {
        addSums(add1m!, id, hour + i * MINUTE_MS, [minute]);
        addBins(addBin1m!, id, hour + i * MINUTE_MS, idOf(bin), [minute]);
      });
    }
    for (let i = 0; i < 6; i++) {
      const part = minutes.slice(10 * i, 10 * i + 10);
      addSums(add10m!, id, hour + i * 10 * MINUTE_MS, part);
      addBins(addBin10m!, id, hour + i * 10 * MINUTE_MS, idOf(bin), part);
    }
    addSums(add1h!, id, hour, minutes);
    addBins(addBin1h!, id, hour, idOf(bin), minutes);
    const counts = minutes.map(({ p }) => p[6]!);
    const ms = minutes.reduce((sum, { m }) => sum + m[6]!, 0);
    const pulses = counts.reduce((sum, each) => sum + each, 0);
    if (ms > 0) addSpread.run(id, hour, idOf(bin), pulses, ms, ...spreadOf(counts));
  }
}

interface Insert {
  run(...values: unknown[]): unknown;
}

function addSums(insert: Insert, id: number, start: number, minutes: readonly Minute[]): void {
  const sum = (take: (minute: Minute) => number): number =>
    minutes.reduce((total, minute) => total + take(minute), 0);
  const classes = [1, 2, 3, 4, 5, 6, 7];
  const pulses = classes.map((c) => sum(({ p }) => p[c]!));
  insert.run(id, start, 0, ...pulses, ...classes.map((c) => sum(({ m }) => m[c]!)), 0);
}

function addBins(insert: Insert, id: number, start: number, bin: number, minutes: readonly Minute[]): void {
  const ms = minutes.reduce((sum, { m }) => sum + m[6]!, 0);
  if (ms > 0)
    insert.run(
      id,
      start,
      bin,
      minutes.reduce((sum, { p }) => sum + p[6]!, 0),
      ms,
    );
}

/** Sunday it stands. An hour of readings is missing on the 11th day, so that there is a gap as well. */
function drawMinute(start: number, factor: number, random: () => number): Minute {
  const p = [0, 0, 0, 0, 0, 0, 0, 0];
  const m = [0, 0, 0, 0, 0, 0, 0, 0];
  const minuteOfDay = Math.floor((start % DAY_MS) / MINUTE_MS);
  const day = Math.floor(start / DAY_MS);
  const bin = minuteOfDay < SLOW_HOUR * 60 ? FAST_BIN : SLOW_BIN;
  if (day % 11 === 0 && Math.floor(minuteOfDay / 60) === 9) return { p, m, bin };
  const isRunning = runsOn(day) && minuteOfDay >= START_HOUR * 60 && minuteOfDay < STOP_HOUR * 60;
  const isEdge = runsOn(day) && (minuteOfDay === START_HOUR * 60 || minuteOfDay === STOP_HOUR * 60);
  const cls = isEdge ? 4 : isRunning ? 6 : 7;
  const rate = { 4: 80, 6: minuteOfDay < SLOW_HOUR * 60 ? FAST_PER_MIN : SLOW_PER_MIN, 7: 0.02 }[cls];
  m[cls] = MINUTE_MS;
  p[cls] = drawCount(rate * factor, random);
  return { p, m, bin };
}

function runsOn(day: number): boolean {
  return day % 7 !== 3;
}

function* listDays({ from, days }: DrawnPlant): Generator<number> {
  for (let i = 0; i < days; i++) if (runsOn(from / DAY_MS + i)) yield from + i * DAY_MS;
}

function writeStarts(db: Database, plant: DrawnPlant, motor: string, idOf: (text: string) => number): void {
  const add = db.prepare('INSERT INTO transient VALUES (?, ?, ?, ?, ?, ?, 0)');
  for (const day of listDays(plant)) {
    for (const [hour, kind] of [
      [START_HOUR, 'start'],
      [STOP_HOUR, 'stop'],
    ] as const) {
      const at = day + hour * HOUR_MS;
      const counts = POSITIONS.map(([position], i) => ({
        ...{ sensor: `${motor}/${position}`, pulses: 80 - 40 * i, ms: 60_000 },
      }));
      add.run(idOf(motor), at - 2_000, at + 20_000, 2, kind, JSON.stringify(counts));
    }
  }
}

function writeDrive(db: Database, plant: DrawnPlant, motor: number): void {
  const add = db.prepare('INSERT INTO drive_message VALUES (?, ?, ?, ?, ?, ?, ?, 4, NULL, ?)');
  const say = (at: number, state: string, rpm: number, load: number, since = at): void => {
    add.run(motor, at, since, state, Number(state !== 'stopped'), rpm, load, at);
  };
  const kept = {
    ...plant,
    from: plant.from + (plant.days - plant.minuteDays) * DAY_MS,
    days: plant.minuteDays,
  };
  for (const day of listDays(kept)) {
    say(day + START_HOUR * HOUR_MS, 'starting', 0, 20);
    const ran = day + START_HOUR * HOUR_MS + 8_000;
    say(ran, 'running', 1480, 70);
    for (let hour = START_HOUR + 1; hour < STOP_HOUR; hour++) {
      const [rpm, load] = hour < SLOW_HOUR ? [1480, 72] : [900, 41];
      say(day + hour * HOUR_MS, 'running', rpm, load, ran);
    }
    say(day + STOP_HOUR * HOUR_MS, 'stopping', 900, 10);
    say(day + STOP_HOUR * HOUR_MS + 9_000, 'stopped', 0, 0);
  }
}

function writeMarks(db: Database, plant: DrawnPlant, motor: string, id: number): void {
  const { from, days } = plant;
  const end = from + days * DAY_MS;
  const at = (share: number): number => from + Math.round((share * days * DAY_MS) / MINUTE_MS) * MINUTE_MS;
  db.prepare(
    `INSERT INTO maintenance_action (motor, at, entered_at, entered_by, note, action, place, bearing, breaks)
     VALUES (?, ?, ?, 'J. Reed', 'with a new lead', 'shaft-earthing-fitted', 'de', NULL, 'nothing')`,
  ).run(id, at(0.6), at(0.6));
  db.prepare(
    `INSERT INTO finding (motor, at, entered_at, entered_by, note, place, removed, modes, signs, lubricant)
     VALUES (?, ?, ?, 'J. Reed', '', 'de', 0, '[]', '["frosting"]', '["darkened"]')`,
  ).run(id, at(0.59), at(0.59));
  const evidence = {
    ...{ from: at(0.5) - 600_000, to: at(0.5), pulses: 910, exposureMs: 600_000, ratePerMin: 91 },
    ...{ lowerPerMin: 85, upperPerMin: 97, dispersion: 1.1, confidence: 0.999, setpointPerMin: 60 },
    ...{ deadbandPerMin: 6, onDelayMs: 60_000, offDelayMs: 60_000, configuration: 'abc', strip: [] },
    says: '910 pulses in 10 min of running are 85 to 97 a minute, above the setpoint of 60.',
  };
  const add = db.prepare(
    `INSERT INTO journal (at, detected_at, kind, subject, before, after, who, text, evidence, what, annunciated, configuration)
     VALUES (?, ?, 'alarm', ?, 'normal', 'unacknowledged', '', ?, ?, ?, 1, 'abc')`,
  );
  const subject = `${motor}.de-above-baseline`;
  add.run(at(0.5), at(0.5), subject, evidence.says, JSON.stringify(evidence), 'raised');
  add.run(at(0.62), at(0.62), subject, 'The rate is back below it.', null, 'returned');
  if (end > from + 40 * DAY_MS)
    add.run(end - 2 * HOUR_MS, end - 2 * HOUR_MS, subject, evidence.says, JSON.stringify(evidence), 'raised');
}

function writeBaselines(db: Database, { from, motors }: DrawnPlant, motor: string): void {
  const factor = motors.find((each) => each.motor === motor)!.factor;
  for (const [position, share] of POSITIONS) {
    const yardstick = (perMin: number): object => ({
      ...{ from, to: from + 20 * DAY_MS, days: 17, dispersion: 1.2, dayDispersion: 1.5 },
      ...{ pulses: Math.round(120 * 60 * perMin * factor * share), ms: 120 * HOUR_MS },
      ...{ visitedAt: from + 20 * DAY_MS, stale: false },
    });
    const record = {
      ...{ since: from, readTo: from + 20 * DAY_MS, unsteady: [], days: [] },
      yardsticks: [
        [FAST_BIN, yardstick(FAST_PER_MIN)],
        [SLOW_BIN, yardstick(SLOW_PER_MIN)],
      ],
    };
    db.prepare('INSERT INTO checkpoint VALUES (?, 1, ?)').run(
      `watch:${motor}/${position}`,
      JSON.stringify(record),
    );
  }
}

/** Blocks of 10 s as regular as their minute. */
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

/** Poisson by multiplying chances; near enough normal above 60. */
function drawCount(mean: number, random: () => number): number {
  if (mean > 60) {
    const deviate = Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
    return Math.max(0, Math.round(mean + deviate * Math.sqrt(mean)));
  }
  const least = Math.exp(-mean);
  let count = -1;
  for (let product = 1; product > least; count++) product *= random();
  return Math.max(0, count);
}
