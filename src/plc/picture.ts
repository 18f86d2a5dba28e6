/**
 * The plant picture: the latest of everything with its time, and what of it still holds at a given time. Pure: news and
 * times come in. A value that is too old is unknown; nothing is ever shown for longer because nothing newer came.
 */
import { mergeDrives, mergeRates, type AlarmNews, type DriveNews, type News, type RateNews } from './news.js';
import { FEED_LOST_MS, type Plant, type PlantAlarm, type PlantMotor, type PlantSensor } from './plant.js';
import { judgeHealth, type SensorHealth } from './sensor-health.js';

/** `stale`: there was a value, and it is too old. `unknown`: there was none, or nobody can say. */
export type Standing = 'unknown' | 'good' | 'uncertain' | 'stale';

/** Null: not known. `at`: event time of the value, also of one that is too old to be shown. */
export interface SensorView {
  readonly ratePerMin: number | null;
  readonly lowerPerMin: number | null;
  readonly upperPerMin: number | null;
  readonly standing: Standing;
  readonly at: number | null;
  readonly heardAt: number | null;
  readonly health: SensorHealth | null;
}

export interface DriveView {
  /** `assumed`: nobody reports it, and it is taken as running */
  readonly state: DriveNews['state'] | 'assumed' | null;
  readonly modulating: boolean | null;
  /** of the last message, known or not */
  readonly at: number | null;
  /** when the state was entered; null: not known */
  readonly since: number | null;
  /** from when on the state was unknown; null: it is known, or what makes it unknown has no time of its own */
  readonly lostAt: number | null;
}

/** What the gateway said of itself last. */
export interface Feed {
  /** when its last beat came, ms of its clock; null: none yet */
  readonly beatAt: number | null;
  /** messages are taken in and stored */
  readonly isReady: boolean;
  /** the store was read; before that nothing is known of alarms */
  readonly isLoaded: boolean;
  /** of its configuration, hex digits; '': not told yet */
  readonly revision: string;
}

export class Picture {
  readonly #rates = new Map<string, RateNews>();
  readonly #drives = new Map<string, DriveNews>();
  readonly #alarms = new Map<string, AlarmNews>();
  readonly #heard = new Map<string, number>();
  readonly #bySensor = new Map<string, PlantAlarm[]>();
  readonly #byMotor = new Map<string, PlantAlarm[]>();
  readonly #known: ReadonlySet<string>;
  feed: Feed = { beatAt: null, isReady: false, isLoaded: false, revision: '' };

  constructor(readonly plant: Plant) {
    this.#known = new Set(plant.alarms.map(({ id }) => id));
    for (const alarm of plant.alarms) {
      push(this.#byMotor, alarm.motor, alarm);
      if (alarm.sensor !== null) push(this.#bySensor, alarm.sensor, alarm);
    }
  }

  take({ rates, drives, alarms, heard }: News): void {
    for (const rate of rates) {
      this.#rates.set(rate.sensor, mergeRates(this.#rates.get(rate.sensor), rate));
      this.#hear(rate.sensor, rate.at);
    }
    for (const drive of drives)
      this.#drives.set(drive.motor, mergeDrives(this.#drives.get(drive.motor), drive));
    for (const alarm of alarms) if (this.#known.has(alarm.id)) this.#alarms.set(alarm.id, alarm);
    for (const { sensor, at } of heard) this.#hear(sensor, at);
  }

  #hear(sensor: string, at: number): void {
    this.#heard.set(sensor, Math.max(at, this.#heard.get(sensor) ?? -Infinity));
  }

  /** False: the gateway says nothing, or can store nothing, so its alarms and states stand still. */
  isFed(now: number): boolean {
    const { beatAt, isReady, isLoaded } = this.feed;
    return isLoaded && isReady && beatAt !== null && now - beatAt <= FEED_LOST_MS;
  }

  viewSensor(sensor: PlantSensor, now: number): SensorView {
    const rate = this.#rates.get(sensor.key);
    const heardAt = this.#heard.get(sensor.key) ?? null;
    const health = this.isFed(now) ? this.#judgeHealth(sensor, rate, heardAt, now) : null;
    const at = rate?.runningAt ?? null;
    if (rate === undefined || at === null || rate.ratePerMin === null)
      return { ...NO_RATE, standing: 'unknown', at, heardAt, health };
    if (now - at > sensor.staleMs) return { ...NO_RATE, standing: 'stale', at, heardAt, health };
    const { ratePerMin, lowerPerMin, upperPerMin, quality } = rate;
    const standing = quality === 'good' ? 'good' : 'uncertain';
    return { ratePerMin, lowerPerMin, upperPerMin, standing, at, heardAt, health };
  }

  #judgeHealth(
    sensor: PlantSensor,
    rate: RateNews | undefined,
    heardAt: number | null,
    now: number,
  ): SensorHealth | null {
    const active = this.alarmsOfSensor(sensor.key).filter(({ news }) => news?.active === true);
    return judgeHealth({
      activeKinds: active.map(({ planned }) => planned.kind),
      isCheck: rate?.isCheck === true && now - rate.at <= sensor.staleMs,
      isHeard: heardAt !== null && now - heardAt <= sensor.staleMs,
    });
  }

  viewDrive(motor: PlantMotor, now: number): DriveView {
    if (!motor.hasRunState) return { ...NO_STATE, state: 'assumed' };
    const drive = this.#drives.get(motor.key);
    if (drive === undefined) return NO_STATE;
    const { at, state, modulating, since } = drive;
    const knownTo = Math.min(
      motor.knownMs === null ? Infinity : at + motor.knownMs,
      drive.absentFrom ?? Infinity,
    );
    if (now > knownTo) return { ...NO_STATE, at, lostAt: knownTo };
    return this.isFed(now) ? { state, modulating, at, since, lostAt: null } : { ...NO_STATE, at };
  }

  /** In the order of the configuration; `news` null: it was never raised, which is `normal`. */
  alarmsOfSensor(key: string): AlarmView[] {
    return this.#viewAlarms(this.#bySensor.get(key));
  }

  /** Those of its sensors and of its drive. */
  alarmsOfMotor(key: string): AlarmView[] {
    return this.#viewAlarms(this.#byMotor.get(key));
  }

  #viewAlarms(planned: readonly PlantAlarm[] = []): AlarmView[] {
    return planned.map((one) => ({ planned: one, news: this.#alarms.get(one.id) ?? null }));
  }
}

export interface AlarmView {
  readonly planned: PlantAlarm;
  readonly news: AlarmNews | null;
}

const NO_STATE: DriveView = { state: null, modulating: null, at: null, since: null, lostAt: null };
const NO_RATE = { ratePerMin: null, lowerPerMin: null, upperPerMin: null } as const;

function push<T>(into: Map<string, T[]>, key: string, item: T): void {
  const list = into.get(key);
  if (list === undefined) into.set(key, [item]);
  else list.push(item);
}
