/** Mixtures of plant and disorder for rough plants, each from a seed. */
import { seeded } from './little-plant.js';
import type { Reporter, RoughWishes } from './rough-plant.js';
import type { Disorder } from './rough-run.js';

const REPORTERS: readonly (readonly Reporter[])[] = [
  ['change'],
  ['heartbeat'],
  ['polled'],
  ['change', 'heartbeat', 'polled', 'change-bare', 'none'],
  ['heartbeat', 'change'],
];

export function wishesOf(seed: number): RoughWishes {
  const random = seeded(seed * 7919);
  const pick = <T>(list: readonly T[]): T => list[Math.floor(random() * list.length)]!;
  const bits = pick([16, 32, 53] as const);
  const boots = random() < 0.7;
  return {
    motors: 6,
    minutes: 120,
    reporters: pick(REPORTERS),
    intervalsMs: pick([[10_000], [5000, 10_000, 60_000], [60_000, 10_000], [10_000, 5000]]),
    bits,
    holdMs: pick([0, 600_000, 1_800_000]),
    bursts: pick([0, 2, 4]),
    reboots: boots ? pick([0, 0.003]) : 0,
    swaps: pick([0, 0.002]),
    torn: pick([0, 0.002]),
    checks: pick([0, 0.002]),
    boots,
    seqs: random() < 0.8,
    upMs: random() < 0.6,
    coupled: random() < 0.4,
    presence: random() < 0.5,
    rate: pick([5, 20, 60]),
  };
}

export function disordersOf(seed: number): Disorder[] {
  const all: Disorder[] = [
    { batch: 13 },
    { batch: 20_000, tickMs: 5000 },
    { delayMs: 45_000, duplicates: true },
    { delayMs: 5_400_000, late: 'drive' },
    { delayMs: 5_400_000, late: 'reading' },
    { outage: [75, 110], restarts: true, batch: 700 },
    { outage: [40, 290], batch: 20_000 },
    { outage: [20, 290], batch: 600, restarts: true },
    { outage: [30, 100], delayMs: 3_600_000, late: 'drive', batch: 900, restarts: true },
    { backlog: [80, 110], batch: 400, restarts: true },
    { delayMs: 1_800_000, duplicates: true, restarts: true, batch: 500, tickMs: 3000 },
  ];
  return [all[seed % all.length]!, all[(seed * 5 + 3) % all.length]!];
}
