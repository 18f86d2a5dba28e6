/** Eight pumps on one duty, four fans, six blowers, thirty days of hours: pump-3 is the odd one out, pump-5 got an earthing device half way. */
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { writeCountedStore, type CountedSensor, type StoredEntry } from '../support/counted-store.js';

export const HOUR_MS = 3_600_000;
export const DAY_MS = 24 * HOUR_MS;
export const BEGIN = Date.UTC(2026, 1, 2);
export const DAYS = 30;
/** when pump-5 got its earthing device: half past ten, so that an hour is cut in two */
export const EARTHED_AT = BEGIN + 15 * DAY_MS + 10.5 * HOUR_MS;
/** true ratio after over before */
export const EARTHING_EFFECT = 0.2;
export const ODD_RATIO = 3;

const CONFIG = `
site: works
motors:
  pump-{1..8}:
    dutyGroup: pumps
    nameplate: { powerKw: 11 }
    positions: { de: {} }
  fan-{1..4}:
    dutyGroup: fans
    positions: { de: {} }
  blower-{1..6}:
    dutyGroup: blowers
    positions: { de: {} }
  mill:
    positions: { de: {} }
`;

/** Half the hours at each speed; the rate doubles with it. */
function speedAt(hour: number): { factor: number; bin: string } {
  return Math.floor(hour / HOUR_MS) % 2 === 0
    ? { factor: 1, bin: 'speed ..900' }
    : { factor: 2, bin: 'speed 900..' };
}

function pump(n: number): CountedSensor {
  return {
    sensor: `pump-${n}/de`,
    at: (hour) => {
      const { factor, bin } = speedAt(hour);
      const own = n === 3 ? ODD_RATIO : n === 5 && hour > EARTHED_AT ? EARTHING_EFFECT : 1 + 0.02 * n;
      return { perS: 0.5 * own * factor, bin };
    },
  };
}

function blower(n: number): CountedSensor {
  return { sensor: `blower-${n}/de`, at: () => ({ perS: 0.9 + 0.03 * n, bin: 'all' }) };
}

/** Two of the four count three times as much. */
function fan(n: number): CountedSensor {
  return { sensor: `fan-${n}/de`, at: () => ({ perS: n <= 2 ? 1.5 : 0.5, bin: 'all' }) };
}

export const ACTIONS: readonly StoredEntry[] = [
  { motor: 'pump-5', action: 'shaft-earthing-fitted', at: EARTHED_AT, end: 'de' },
  { motor: 'pump-5', action: 'regreased', at: BEGIN + (DAYS - 1) * DAY_MS, withdrawn: true },
  { motor: 'pump-7', action: 'common-mode-filter', at: BEGIN + DAYS * DAY_MS - 5 * HOUR_MS },
];

/** As the core keeps it: 10 days of learning behind pump-3 and pump-5, three of the mill. */
function watchOf(rate: number): object {
  const bins = [
    ['speed ..900', rate],
    ['speed 900..', 2 * rate],
  ] as const;
  const yardstick = (perS: number): object => ({
    from: BEGIN,
    to: BEGIN + 10 * DAY_MS,
    pulses: Math.round(120 * 3600 * perS),
    ms: 120 * HOUR_MS,
    days: 10,
    dispersion: 5,
    dayDispersion: 6,
    visitedAt: BEGIN + 10 * DAY_MS,
    stale: false,
  });
  return {
    since: BEGIN,
    readTo: BEGIN + DAYS * DAY_MS,
    yardsticks: bins.map(([bin, perS]) => [bin, yardstick(perS)]),
    unsteady: [],
    days: [],
  };
}

function learning(): object {
  const spread = { pulses: 300, ms: 10 * HOUR_MS, q: [2.5, 2.5, 2.5, 2.5], k: [3600, 600, 60, 10] };
  const days = [0, 1, 2].map((day) => [BEGIN + day * DAY_MS, [['all', 300, 6 * HOUR_MS, spread]]]);
  return { since: BEGIN, readTo: BEGIN + 3 * DAY_MS, yardsticks: [], unsteady: [], days };
}

export interface AdvicePlant {
  readonly folder: string;
  readonly data: string;
  readonly config: string;
}

export function makeAdvicePlant(): AdvicePlant {
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-advice-'));
  const data = join(folder, 'data');
  const config = join(folder, 'plant.yaml');
  writeFileSync(config, CONFIG);
  writeCountedStore(data, {
    sensors: [
      ...[1, 2, 3, 4, 5, 6, 7, 8].map(pump),
      ...[1, 2, 3, 4].map(fan),
      ...[1, 2, 3, 4, 5, 6].map(blower),
    ],
    from: BEGIN,
    hours: DAYS * 24,
    phi: 5,
    seed: 7,
    actions: ACTIONS,
    findings: [{ motor: 'fan-4', end: 'de', at: BEGIN + 20 * DAY_MS, signs: ['fluting'] }],
    checkpoints: {
      'watch:pump-3/de': watchOf(0.5),
      'watch:pump-5/de': watchOf(0.5),
      'watch:mill/de': learning(),
    },
  });
  return { folder, data, config };
}
