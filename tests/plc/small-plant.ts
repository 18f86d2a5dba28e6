/** A plant of two pumps and a fan for tests of what PLC and HMI are shown, with news about them. */
import type { AlarmNews, DriveNews, News, RateNews } from '../../src/plc/news.js';
import { Picture } from '../../src/plc/picture.js';
import type { Plant, PlantAlarm } from '../../src/plc/plant.js';

export const NOW = 1_700_000_000_000;
export const REVISION = '0a1b2c3d4e5f';
export const STALE_MS = 120_000;
export const GOOD_MS = 105_000;

function alarm(motor: string, position: string | null, kind: string): PlantAlarm {
  return {
    id: `${motor}.${position ?? 'drive'}-${kind}`,
    motor,
    sensor: position === null ? null : `${motor}/${position}`,
    ...{ kind, priority: kind === 'rate-high' ? 'medium' : 'low', action: 'Look.', consequence: 'Flutes.' },
  };
}

export function smallPlant(change: Partial<Plant> = {}): Plant {
  const motors = ['pump-1', 'pump-2', 'fan-a'];
  return {
    site: 'works',
    motors: motors.map((key) => ({
      ...{ key, zone: 'hall', hasRunState: key !== 'fan-a' },
      knownMs: key === 'pump-1' ? 30_000 : null,
    })),
    sensors: motors.flatMap((motor) =>
      (motor === 'fan-a' ? ['de'] : ['de', 'nde']).map((position) => ({
        ...{ key: `${motor}/${position}`, motor, position, staleMs: STALE_MS, goodMs: GOOD_MS },
      })),
    ),
    alarms: motors.flatMap((motor) => [
      alarm(motor, 'de', 'rate-high'),
      alarm(motor, 'de', 'no-readings'),
      alarm(motor, 'de', 'saturated'),
      alarm(motor, 'de', 'silent-in-company'),
      alarm(motor, null, 'run-state-lost'),
    ]),
    ...change,
  };
}

export const SLOTS = new Map([
  ['pump-1', 1],
  ['pump-2', 2],
  ['fan-a', 4],
]);

export function rateNews(change: Partial<RateNews> = {}): RateNews {
  return {
    ...{ sensor: 'pump-1/de', at: NOW - 20_000, runningAt: NOW - 20_000, ratePerMin: 12.34 },
    ...{ lowerPerMin: 10.1, upperPerMin: 15, quality: 'good', isCheck: false },
    ...change,
  };
}

export function driveNews(change: Partial<DriveNews> = {}): DriveNews {
  return {
    ...{ motor: 'pump-1', state: 'running', modulating: true, at: NOW - 5_000, since: NOW - 60_000 },
    ...{ absentFrom: null, ...change },
  };
}

export function alarmNews(id: string, change: Partial<AlarmNews> = {}): AlarmNews {
  const [motor = '', name = ''] = id.split('.');
  const [position = '', ...kind] = name.split('-');
  return {
    ...{ id, motor, sensor: position === 'drive' ? null : `${motor}/${position}`, kind: kind.join('-') },
    ...{ priority: 'medium', state: 'unacknowledged', active: true, acknowledged: false, confirmed: true },
    ...{ latched: false, shelvedUntil: null, shelvedOnce: false, isSuppressed: false, isOutOfService: false },
    ...{ isHeld: false, since: NOW - 1_000, says: 'Too many.', note: '', by: '', ...change },
  };
}

export function newsOf(part: Partial<News>): News {
  return { rates: [], drives: [], alarms: [], heard: [], ...part };
}

/** A picture that the gateway feeds. */
export function fedPicture(part: Partial<News> = {}, plant = smallPlant()): Picture {
  const picture = new Picture(plant);
  picture.feed = { beatAt: NOW, isReady: true, isLoaded: true, revision: REVISION };
  picture.take(newsOf(part));
  return picture;
}
