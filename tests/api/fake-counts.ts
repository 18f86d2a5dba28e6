/** The counter of the gateway in memory: a reading every 10 s, at :05, with 15 running pulses, known up to `until`. */
import type { CountQuery, CountRows } from '../../src/core/timed-count.js';
import { Class, Reason } from '../../src/core/words.js';
import { NOW } from './fake-entries.js';

/** Readings up to here are stored and classified; a test moves it. */
export const fakeReadings = { until: NOW };

export function countRows({ sensor, from, to }: CountQuery): CountRows {
  const increments: CountRows['increments'][number][] = [];
  const first = Math.floor((from - 5_000) / 10_000) * 10_000 + 15_000;
  for (let end = first; end <= Math.min(to, fakeReadings.until); end += 10_000) {
    increments.push({
      ...{ sensor, to: end, from: end - 10_000, chain: 1, seq: end / 1000, count: end, upMs: null },
      ...{
        pulses: 15,
        class: Class.running,
        reason: Reason.none,
        flags: 0,
        temperature: null,
        bin: '',
        stored: true,
      },
    });
  }
  const drives = increments.map(({ from: at }) => ({
    ...{ motor: 'pump-1', at, since: null, state: 'running' as const, modulating: true, receivedAt: at },
    ...{ speedRpm: 1480, loadPct: null, switchingKhz: 4, dcLinkV: null },
  }));
  return {
    ...{ increments, drives, presences: [], spreads: [] },
    classAtEnd: fakeReadings.until >= to ? Class.running : null,
  };
}
