/** The score as a report: each target beside what was found, as Markdown and as one JSON object. */
import type { BiasRow } from './full-path.js';
import type { Score } from './run.js';

/** One line of the report. */
export interface Line {
  readonly what: string;
  readonly target: string;
  readonly found: string;
  readonly met: boolean;
}

const percent = (share: number): string => `${(100 * share).toFixed(1)} %`;
const minutes = (value: number | null): string => (value === null ? '-' : `${value.toFixed(0)} min`);

/** Each target beside what was found. */
export function judge(score: Score): Line[] {
  return [...judgeNumbers(score), ...judgeRises(score), ...judgeOdd(score), ...judgePaths(score)];
}

function judgeNumbers({ healthy, coverage, remedy }: Score): Line[] {
  const worst = coverage.reduce((a, b) => (b.share < a.share ? b : a));
  return [
    {
      what: 'coverage of 95 % limits of the rate, N/φ ≥ 20, the worst of 9 kinds',
      target: '93 to 99 %',
      found: `${percent(worst.share)} (${worst.shape}, ${worst.hours} h, ${worst.cases} cases)`,
      met: coverage.every(({ share }) => share >= 0.93),
    },
    {
      what: `healthy fleet, ${healthy.motorYears.toFixed(0)} motor-years`,
      target: 'at most 1 false alarm in 20 motor-years; within 1.5 of the budget',
      found: `${healthy.total} (${JSON.stringify(healthy.alarms)}): ${(20 * healthy.perMotorYear).toFixed(2)} in 20 motor-years, ${healthy.ofBudget.toFixed(2)} of the budget`,
      met: 20 * healthy.perMotorYear <= 1 && healthy.ofBudget <= 1.5,
    },
    {
      what: `before and after a remedy of -80 %, ${remedy.cases} cases`,
      target: 'limits hold the true ratio in 93 %',
      found: `${percent(remedy.share)}, upper over lower ${remedy.width.toFixed(2)} (median)`,
      met: remedy.share >= 0.93,
    },
  ];
}

function judgeRises({ rises }: Score): Line[] {
  return rises.map(({ wish, result }) => ({
    what: wish.name,
    target: wish.target,
    found: `${percent(result.share)} of ${result.cases}, median ${minutes(result.medianMinutes)}, 95 % ${minutes(result.p95Minutes)} of running; ${JSON.stringify(result.byKind)}`,
    met:
      result.share >= wish.shareMin &&
      (wish.medianMax === null || (result.medianMinutes ?? Infinity) < wish.medianMax),
  }));
}

function judgeOdd(score: Score): Line[] {
  const { odd } = score;
  const first = odd.rankedFirst / odd.fleets;
  return [
    {
      what: `the odd one out (3 times) ranked first, ${odd.fleets} fleets of 60`,
      target: '97 %',
      found: `${percent(first)}; called odd on two looks ${percent(odd.found / odd.fleets)}`,
      met: first >= 0.97,
    },
    {
      what: 'false discoveries among those called odd',
      target: 'at most 5 %',
      found: `${odd.falseCalls} of ${odd.called + odd.falseCalls}`,
      met: odd.falseShare <= 0.05,
    },
    {
      what: `two odd ones (3 times) in a group of eight, ${odd.pairs} plants`,
      target: 'both found in 80 %',
      found: percent(odd.bothFound / odd.pairs),
      met: odd.bothFound / odd.pairs >= 0.8,
    },
  ];
}

/** Lowest and highest of some shares. */
function range(shares: readonly number[]): string {
  return `${percent(Math.min(...shares))} to ${percent(Math.max(...shares))}`;
}

function judgePaths({ paths, size }: Score): Line[] {
  return paths.map(({ plant, agrees, transitions, falseAlarms, found, bias }) => ({
    what: `full path, ${plant} plant of ${bias.length} motors over ${size.pathDays} days, one rises by 3`,
    target:
      'bias of the running rate under 1 %, of a plain count over time 20 % or more; same baselines and alarms as the window stage; the rise found, nothing else',
    found: `${range(bias.map((row) => row.runningBias))}; ${range(bias.map((row) => row.plainBias))}; ${agrees ? 'the same' : 'NOT the same'}, ${transitions} transitions; ${found ? 'found' : 'NOT found'}, ${falseAlarms} false`,
    met: agrees && found && falseAlarms === 0 && bias.every(isUnbiased),
  }));
}

/** The running rate to 1 %, where a plain count over time is off by 20 % or more. */
function isUnbiased({ runningBias, plainBias }: BiasRow): boolean {
  return Math.abs(runningBias) < 0.01 && Math.abs(plainBias) >= 0.2;
}

export function writeReport(score: Score): string {
  const lines = judge(score);
  const rows = lines.map(
    ({ what, target, found, met }) => `| ${what} | ${target} | ${found} | ${met ? 'met' : 'NOT met'} |`,
  );
  const coverage = score.coverage.map(
    ({ shape, hours, cases, share }) => `| ${shape} | ${hours} h | ${cases} | ${percent(share)} |`,
  );
  return [
    `# Detection quality, seed ${score.seed}`,
    '',
    '| what | target | found | |',
    '| --- | --- | --- | --- |',
    ...rows,
    '',
    '| bursts | rate over | cases | covered |',
    '| --- | --- | --- | --- |',
    ...coverage,
    '',
    ...(score.tradeOff.length === 0
      ? []
      : [
          'The knob is `alarmBudget.falseAlarmsPerMonth`: what a laxer or stricter budget finds of 1.5-fold rises within three running days.',
          '',
          '| budget a month (60 motors) | found | median |',
          '| --- | --- | --- |',
          ...score.tradeOff.map(
            ({ budget, result }) =>
              `| ${budget} | ${percent(result.share)} | ${minutes(result.medianMinutes)} |`,
          ),
          '',
        ]),
    `${score.seconds.toFixed(0)} s of processor time.`,
    '',
  ].join('\n');
}
