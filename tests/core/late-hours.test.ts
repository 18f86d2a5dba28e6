/**
 * A backlog raises what punctual hours would have raised: for half a day the device cannot send while the rate is twice what it
 * was, and all of it comes when that is over. Beside it the same readings without the outage.
 */
import { describe, expect, it } from 'vitest';
import { resolveScenario } from '../../simulator/scenario.js';
import { runPlant, type SimulatedRun } from '../support/simulated.js';

const DAY = 1440;

function runPump(outages: readonly number[], replay: 'backlog-first' | 'live-first'): SimulatedRun {
  const scenario = resolveScenario({
    site: 'tarn-hollow',
    motors: {
      'pump-1': {
        duty: { runMinutes: 120, stopMinutes: 30 },
        positions: { de: null },
        eachPosition: {
          discharge: {
            ratePerMin: 30,
            backgroundPerMin: 0.2,
            condition: [
              { atMinute: 8 * DAY, factor: 2 },
              { atMinute: 8.5 * DAY, factor: 1 },
            ],
          },
          device: {
            intervalMs: 20_000,
            outages: { atMinutes: [...outages], minutes: 720, buffer: 5000, replay },
          },
        },
      },
    },
  });
  return runPlant({ scenario, seed: 4, hours: 9.5 * 24, faults: new Set() });
}

function raised({ store }: SimulatedRun): { at: number; subject: string }[] {
  return store.journal
    .filter(({ from, to, evidence }) => evidence !== null && from === 'normal' && to === 'unacknowledged')
    .map(({ at, subject }) => ({ at, subject }));
}

describe('a backlog of half a day', { timeout: 60_000 }, () => {
  it.each(['backlog-first', 'live-first'] as const)(
    'is judged hour by hour, as punctual hours are (%s)',
    (replay) => {
      const punctual = raised(runPump([], replay)).filter(({ subject }) => subject === 'pump-1.de-rising');
      expect(punctual).toHaveLength(1);
      const late = runPump([8 * DAY], replay);
      expect(raised(late).filter(({ subject }) => subject === 'pump-1.de-rising')).toEqual(punctual);
      expect(late.state.sensors.get('pump-1/de')!.watch.late).toEqual([]);
    },
  );
});
