/** A journal of eight months in a zone that changes its clocks, from a seed: quiet weeks, storms, alarms that nobody looks after. */
import type { JournalLine } from '../../src/advice/alarm-histories.js';
import type { AlarmFacts, Priority } from '../../src/advice/alarm-performance.js';
import { seedRandom } from '../support/seeded-random.js';

export const ZONE = 'Europe/Berlin';
export const STEP_MS = 10_000;
/** local 2026-03-20 07:00 and 2026-11-05 16:00; the clocks change on 2026-03-29 and 2026-10-25 */
export const SEASON = { from: Date.parse('2026-03-20T06:00:00Z'), to: Date.parse('2026-11-05T15:00:00Z') };
const BEGIN = SEASON.from - 5 * 86_400_000;
const NIGHTS = [
  '2026-03-29T00:40:00Z',
  '2026-03-29T01:10:00Z',
  '2026-10-25T00:20:00Z',
  '2026-10-25T01:20:00Z',
];
const ALARMS = 40;

export interface Season {
  /** in order of time; every time a multiple of `STEP_MS` */
  readonly lines: JournalLine[];
  readonly facts: AlarmFacts[];
}

/** About `count` entries, rather more. */
export function makeSeason(seed: number, count: number): Season {
  const random = seedRandom(seed);
  const storms = [
    ...NIGHTS.map((text) => Date.parse(text)),
    ...Array.from({ length: 60 }, () => BEGIN + random() * (SEASON.to - BEGIN)),
  ].sort((a, b) => a - b);
  const perAlarm = Math.ceil(count / ALARMS);
  const lines = Array.from({ length: ALARMS }, (_, i) => walk(`pump-${i}.de-x`, perAlarm, storms, random));
  const priorities: Priority[] = ['low', 'medium', 'high'];
  return {
    lines: lines.flat().sort((a, b) => a.at - b.at),
    // of the last alarm the record is gone
    facts: Array.from({ length: ALARMS - 1 }, (_, i) => ({
      ...{ id: `pump-${i}.de-x`, priority: priorities[i % 7 === 0 ? 2 : i % 3 === 0 ? 1 : 0]! },
      ...{ respondMs: i % 4 === 0 ? null : (i % 4) * 1_800_000, shelf: null, outOfService: null },
    })),
  };
}

function gapOf(random: () => number, mean: number): number {
  const kind = random();
  const ms =
    kind < 0.3
      ? random() * 50_000
      : kind < 0.6
        ? random() * 1_200_000
        : kind < 0.97
          ? random() * mean
          : random() * 4 * 86_400_000;
  return Math.ceil((ms + 1) / STEP_MS) * STEP_MS;
}

/** One alarm's lines: raised and returned, acknowledged or not, sometimes hidden, in storms a few at once. */
function walk(alarm: string, count: number, storms: readonly number[], random: () => number): JournalLine[] {
  const lines: JournalLine[] = [];
  const mean = Math.max(60_000, ((SEASON.to - BEGIN) / count - 5_700_000) / 0.185);
  let at = BEGIN;
  let [isActive, isTold, isAcknowledged, isShelved, hurry] = [false, false, true, false, 0];
  while (at < SEASON.to) {
    const next = at + (hurry > 0 ? Math.ceil(random() ** 3 * 6) * STEP_MS : gapOf(random, mean));
    hurry -= 1;
    const storm = storms.find((each) => each >= at && each < next);
    if (storm !== undefined && hurry < 0 && random() < 0.8) {
      at = Math.ceil((storm + random() * 500_000) / STEP_MS) * STEP_MS;
      hurry = 8;
    } else at = next;
    const choice = random();
    if (choice < 0.05) {
      isShelved = !isShelved;
      const annunciated = !isShelved && isActive && !isTold;
      if (annunciated) [isTold, isAcknowledged] = [true, false];
      lines.push({
        at,
        alarm,
        what: isShelved ? 'shelved' : random() < 0.5 ? 'unshelved' : 'shelf-expired',
        annunciated,
      });
    } else if (choice < 0.3 && !isAcknowledged) {
      isAcknowledged = true;
      lines.push({ at, alarm, what: 'acknowledged', annunciated: false });
    } else if (isActive) {
      isActive = false;
      lines.push({ at, alarm, what: 'returned', annunciated: isTold });
    } else {
      [isActive, isTold] = [true, !isShelved];
      if (isTold) isAcknowledged = false;
      lines.push({ at, alarm, what: 'raised', annunciated: isTold });
    }
  }
  return lines;
}
