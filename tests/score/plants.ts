/** Small plants for the full path: a calm one, and one in which all goes wrong that does not make a number untrue. */
import { resolveScenario, type Scenario } from '../../simulator/scenario.js';
import type { ScenarioText } from '../../simulator/scenario-schema.js';

type Motor = NonNullable<ScenarioText['motors'][string]>;

const DAY_MINUTES = 1440;
const RISE = 3;

function calmMotor(riseDay: number | null): Motor {
  return {
    dutyGroup: 'pumps',
    duty: { runMinutes: 90, stopMinutes: 60 },
    eachPosition: {
      discharge: {
        ratePerMin: 60,
        bursts: { perHour: 12, meanSeconds: 20, factor: 2 },
        startPulses: 400,
        stopPulses: 200,
        backgroundPerMin: 0.2,
        condition: riseDay === null ? [] : [{ atMinute: riseDay * DAY_MINUTES, factor: RISE }],
      },
      device: { intervalMs: 10_000, outages: { perDay: 1, minutes: 10 } },
    },
    positions: { de: {} },
  };
}

/** Three motors that start and stop, one of which discharges three times as often from `riseDay` on. */
export function calmPlant(riseDay: number): Scenario {
  return resolveScenario({
    site: 'tarn-hollow',
    motors: { 'pump-1': calmMotor(null), 'pump-2': calmMotor(null), 'pump-3': calmMotor(riseDay) },
  });
}

/** What each motor of the troubled plant has on top. */
function trouble(motor: Motor, number: number): Motor {
  const { discharge, device } = motor.eachPosition!;
  const ahead = { offsetMs: 700, driftPpm: number % 2 === 0 ? 1.5 : -1.5 };
  const stepped = {
    steps: [
      { atMinute: 3000, byMs: 95_000 },
      { atMinute: 4000, byMs: -95_000 },
    ],
  };
  return {
    ...motor,
    eachPosition: {
      discharge: {
        ...discharge,
        backgroundPerMin: 0.1,
        crosstalk: { from: [`pump-${1 + (number % 6)}`], switchingPulses: 60, ratePerMin: 0.15 },
      },
      device: {
        ...device,
        outages: { perDay: 1, minutes: 20, replay: number % 2 === 0 ? 'live-first' : 'backlog-first' },
        reboots: { perDay: 0.7, skipShare: 0.2 },
        clock: number === 5 ? stepped : ahead,
      },
    },
    drive: { outages: { perDay: 0.2, minutes: 10 } },
    duty: { ...motor.duty, tripShare: 0.1 },
  };
}

/**
 * Six motors with cross-talk, bursts over the whole zone, outages of devices, drives and network, reboots, trips, clocks that
 * drift, and one that is a minute and a half ahead for most of a day.
 */
export function troubledPlant(riseDay: number): Scenario {
  const motors = [1, 2, 3, 4, 5, 6].map((number): [string, Motor] => [
    `pump-${number}`,
    trouble(calmMotor(number === 3 ? riseDay : null), number),
  ]);
  return resolveScenario({
    site: 'tarn-hollow',
    motors: Object.fromEntries(motors),
    siteBursts: [{ perDay: 2, meanSeconds: 15, pulsesPerS: 20 }],
    network: { outages: { perDay: 0.3, minutes: 15 }, duplicateShare: 0.01, reorderShare: 0.01 },
  });
}
