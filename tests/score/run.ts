/** The whole score at one size. */
import { scorePath, type PathResult } from './full-path.js';
import { scoreHealthy, type HealthyResult } from './healthy.js';
import { scoreCoverage, scoreRemedy, type CoverageRow, type RemedyResult } from './limits.js';
import { scoreOdd, type OddResult } from './odd.js';
import { calmPlant, troubledPlant } from './plants.js';
import { scoreRise, type RiseResult, type RiseWish } from './rises.js';

export interface Size {
  readonly fleets: number;
  readonly motors: number;
  readonly days: number;
  readonly riseCases: number;
  readonly oddFleets: number;
  readonly coverageCases: number;
  readonly remedyCases: number;
  /** days of a small plant through the full path, and how many troubled ones beside the calm one */
  readonly pathDays: number;
  readonly troubledPlants: number;
  readonly tradeOff: boolean;
}

export const FULL: Size = {
  ...{
    fleets: 4,
    motors: 60,
    days: 365,
    riseCases: 200,
    oddFleets: 100,
    coverageCases: 400,
    remedyCases: 300,
  },
  ...{ pathDays: 12, troubledPlants: 3, tradeOff: true },
};
export const SMALL: Size = {
  ...{ fleets: 1, motors: 12, days: 20, riseCases: 10, oddFleets: 3, coverageCases: 60, remedyCases: 40 },
  ...{ pathDays: 10, troubledPlants: 1, tradeOff: false },
};

export interface RiseTarget extends RiseWish {
  readonly target: string;
  readonly shareMin: number;
  /** running minutes; null: none asked */
  readonly medianMax: number | null;
}

export const RISES: readonly Omit<RiseTarget, 'cases'>[] = [
  {
    ...{
      name: '3-fold rise, 1 pulse/s, dispersion 5',
      factor: 3,
      rate: [1, 1],
      dispersion: [5, 5],
      shape: null,
    },
    ...{ runningDays: 3, target: '99 %, median under 60 min', shareMin: 0.99, medianMax: 60 },
  },
  {
    ...{ name: '3-fold rise, 0.02 to 3 pulses/s, dispersion 1 to 20', factor: 3, rate: [0.02, 3] },
    ...{ dispersion: [1, 20], shape: null, runningDays: 14, target: '99 %', shareMin: 0.99, medianMax: null },
  },
  {
    ...{ name: '1.5-fold rise, 0.1 to 3 pulses/s, dispersion 1 to 20', factor: 1.5, rate: [0.1, 3] },
    ...{
      dispersion: [1, 20],
      shape: null,
      runningDays: 3,
      target: '90 % within 3 running days',
      shareMin: 0.9,
    },
    ...{ medianMax: null },
  },
];

export interface Score {
  seed: number;
  size: Size;
  healthy: HealthyResult;
  rises: { wish: RiseTarget; result: RiseResult }[];
  odd: OddResult;
  coverage: CoverageRow[];
  remedy: RemedyResult;
  paths: PathResult[];
  tradeOff: { budget: number; result: RiseResult }[];
  seconds: number;
}

/** Budget of a plant that states none: one in 20 motor-years. */
export const budgetPerMonth = (motors: number): number => Math.min(1, motors / 240);

/** `tell` hears what is done as it goes; `seconds` reads processor time. */
export function runScore(
  seed: number,
  size: Size,
  tell: (line: string) => void,
  seconds: () => number,
): Score {
  const begin = seconds();
  const budget = budgetPerMonth(60);
  const rises = RISES.map((wish) => {
    const full = { ...wish, cases: size.riseCases };
    tell(wish.name);
    return { wish: full, result: scoreRise(seed, full, budget) };
  });
  tell('the odd one out');
  const odd = scoreOdd(seed, size.oddFleets);
  tell('limits');
  const coverage = scoreCoverage(seed, size.coverageCases);
  const remedy = scoreRemedy(seed, size.remedyCases);
  tell('full path');
  const paths = scorePaths(seed, size);
  const slow = { ...RISES[2]!, cases: Math.ceil(size.riseCases / 2) };
  const tradeOff = (size.tradeOff ? [0.025, 0.25, 2.5] : []).map((each) => {
    tell(`budget ${each}`);
    return { budget: each, result: scoreRise(seed, slow, each) };
  });
  tell('healthy fleets');
  const { fleets, motors, days } = size;
  const healthy = scoreHealthy(seed, { fleets, motors, days, budgetPerMonth: budgetPerMonth(motors) });
  return {
    ...{ seed, size, healthy, rises, odd, coverage, remedy, paths },
    ...{ tradeOff, seconds: seconds() - begin },
  };
}

function scorePaths(seed: number, { pathDays, troubledPlants }: Size): PathResult[] {
  const troubled = Array.from({ length: troubledPlants }, (_, i) => {
    return scorePath(`troubled ${i + 1}`, troubledPlant, seed + i, pathDays);
  });
  return [scorePath('calm', calmPlant, seed, pathDays), ...troubled];
}
