/** How long comparisons take over a year of hours of one motor and its group, and the plan list over a plant. */
import { createHash } from 'node:crypto';
import type { Fleet } from '../../src/advice/fleet.js';
import type { CompareQuestion } from '../../src/advice/question.js';
import { answerQuestion } from '../../src/cli/query/compare.js';
import { rankFleet } from '../../src/cli/query/plan-list.js';
import { openReader } from '../../src/store/reader.js';
import { writeCountedStore, type CountedSensor } from '../support/counted-store.js';
import { median } from './spread.js';

const HOUR_MS = 3_600_000;
const BEGIN = Date.UTC(2025, 0, 1);

export interface CompareWishes {
  readonly folder: string;
  /** motors of one duty group, one sensor each */
  readonly motors: number;
  /** condition bins, visited in turn */
  readonly bins: number;
  readonly hours: number;
  readonly rounds: number;
}

export interface CompareResult {
  readonly motors: number;
  readonly bins: number;
  readonly hours: number;
  /** median over the rounds: processor time of this process, ms; what one question costs without waiting for others */
  readonly cpuMs: { readonly sisters: number; readonly periods: number; readonly plan: number };
  /** the same by the clock */
  readonly wallMs: { readonly sisters: number; readonly periods: number; readonly plan: number };
  /** of the answers */
  readonly hash: string;
}

export function measureCompare({ folder, motors, bins, hours, rounds }: CompareWishes): CompareResult {
  const sensors = Array.from({ length: motors }, (_, i) => makeSensor(i, bins));
  writeCountedStore(folder, { sensors, from: BEGIN, hours, phi: 5, seed: 1 });
  const fleet: Fleet = sensors.map(({ sensor }) => ({
    motor: sensor.split('/')[0]!,
    zone: 'hall',
    dutyGroup: 'group',
    positions: ['de'],
    powerKw: null,
    frameMm: null,
  }));
  const reader = openReader(folder);
  try {
    const half = BEGIN + Math.floor(hours / 2) * HOUR_MS;
    const end = BEGIN + hours * HOUR_MS;
    const sensor = sensors[0]!.sensor;
    const ask = (question: CompareQuestion) => answerQuestion(reader, { fleet, question });
    const sisters = time(rounds, () => ask({ kind: 'sisters', sensor, from: BEGIN, to: end }));
    const before = { from: BEGIN, to: half };
    const periods = time(rounds, () =>
      ask({ kind: 'periods', sensor, before, after: { from: half, to: end } }),
    );
    const plan = time(rounds, () => rankFleet(reader, fleet));
    const answers = JSON.stringify([sisters.answer, periods.answer, plan.answer]);
    return {
      motors,
      bins,
      hours,
      cpuMs: { sisters: sisters.cpuMs, periods: periods.cpuMs, plan: plan.cpuMs },
      wallMs: { sisters: sisters.wallMs, periods: periods.wallMs, plan: plan.wallMs },
      hash: createHash('sha256').update(answers).digest('hex').slice(0, 12),
    };
  } finally {
    reader.close();
  }
}

/** The first motor counts three times as much as the others. */
function makeSensor(i: number, bins: number): CountedSensor {
  return {
    sensor: `motor-${i + 1}/de`,
    at: (hour) => {
      const cell = Math.floor(hour / HOUR_MS) % bins;
      const bin = bins === 1 ? 'all' : `speed ${300 * cell}..${300 * (cell + 1)}`;
      return { perS: (i === 0 ? 3 : 1 + 0.01 * i) * (1 + cell), bin };
    },
  };
}

function time<T>(rounds: number, ask: () => T): { cpuMs: number; wallMs: number; answer: T } {
  let answer = ask();
  const cpu: number[] = [];
  const wall: number[] = [];
  for (let round = 0; round < rounds; round++) {
    const begin = performance.now();
    const start = process.cpuUsage();
    answer = ask();
    const { user, system } = process.cpuUsage(start);
    cpu.push((user + system) / 1000);
    wall.push(performance.now() - begin);
  }
  return { cpuMs: median(cpu), wallMs: median(wall), answer };
}
