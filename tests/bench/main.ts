/**
 * `npm run bench [-- --rounds N --seconds S --only NAME,… --json FILE]`: every figure that docs/measurements.md states.
 * Tables go to the terminal, one JSON object to the file. Ends with 1 when a stored result is wrong, never because of speed.
 */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { availableParallelism, cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { measureCompare } from './compare.js';
import { measureCore } from './core.js';
import { formatHover, measureHover } from './hover.js';
import { compileLoad } from './load.js';
import { measureLiveMemory, measureRegateMemory } from './memory.js';
import { formatReaders, measureReaders } from './page-readers.js';
import { formatPostgres, measurePostgres } from './postgres.js';
import { measureReplay } from './replay.js';
import { formatSinks, measureSinks, SINK_ARMS } from './sinks.js';
import { findPostgres, WITHOUT_POSTGRES } from '../support/postgres-cluster.js';
import { MISSING_RECEIVERS } from '../receivers/receiver-hall.js';
import { runScenario } from './rounds.js';
import { SCENARIOS } from './scenarios.js';
import { median } from './spread.js';
import { formatCount, formatMegabytes, formatScenario, formatTable } from './table.js';
import { findTargets } from './targets.js';

const HOUR_MS = 3_600_000;
const START_AT = Date.UTC(2026, 0, 5);
const OTHERS = [
  'core',
  'replay',
  'memory',
  'month',
  'regate',
  'compare',
  'hover',
  'page-readers',
  'postgres',
  'sinks',
] as const;

interface Wishes {
  readonly rounds: number;
  readonly seconds: number;
  readonly only: readonly string[];
  readonly json: string | null;
  readonly folder: string;
}

function readWishes(folder: string): Wishes {
  const { values } = parseArgs({
    options: {
      rounds: { type: 'string', default: '5' },
      seconds: { type: 'string', default: '10' },
      only: { type: 'string' },
      json: { type: 'string' },
    },
  });
  const known = [...SCENARIOS.map(({ name }) => name), ...OTHERS];
  const only = values.only === undefined ? known : values.only.split(',');
  for (const name of only) {
    if (!known.includes(name)) throw new Error(`no bench "${name}": one of ${known.join(', ')}`);
  }
  const positive = (name: string, text: string): number => {
    const value = Number(text);
    if (!(value > 0)) throw new Error(`--${name} must be a number above 0, not "${text}"`);
    return value;
  };
  return {
    rounds: Math.ceil(positive('rounds', values.rounds)),
    seconds: positive('seconds', values.seconds),
    only,
    json: values.json ?? null,
    folder,
  };
}

function tell(line: string): void {
  console.error(line);
}

async function benchScenarios(wishes: Wishes, results: Record<string, unknown>): Promise<void> {
  const scenarios = SCENARIOS.filter(({ name }) => wishes.only.includes(name));
  if (scenarios.length === 0) return;
  const program = compileLoad(wishes.folder);
  for (const scenario of scenarios) {
    const result = await runScenario(scenario, {
      folder: wishes.folder,
      program,
      targets: findTargets(),
      rounds: wishes.rounds,
      seconds: wishes.seconds,
      warmupSeconds: Math.min(2, wishes.seconds / 2),
      hashed: 100,
      tell,
    });
    results[scenario.name] = result;
    console.log(`\n${formatScenario(result)}`);
  }
}

function benchCore(wishes: Wishes, results: Record<string, unknown>): void {
  const fleet = { sensors: 1000, intervalMs: 10_000, startAt: START_AT, durationMs: 1.5 * HOUR_MS };
  const core = measureCore(fleet, wishes.rounds);
  results['core'] = core;
  const { median: middle, least, most } = core.perSecond;
  const row = [core.sensors, core.readings, middle, least, most, core.needs].map(formatCount);
  const heading = ['sensors', 'readings', 'readings/s', 'least', 'most', 'questions', 'hash'];
  console.log(`\ncore alone, median of ${core.rounds}\n${formatTable([heading, [...row, core.hash]])}`);
}

async function benchReplay(wishes: Wishes, results: Record<string, unknown>): Promise<void> {
  const rows = [['sensors', 'readings', 'readings/s', 'cores', 'bytes a reading', 'highest RSS']];
  const all = [];
  for (let round = 0; round < wishes.rounds; round++) {
    const folder = mkdtempSync(join(wishes.folder, 'replay-'));
    const fleet = { sensors: 100, intervalMs: 10_000, startAt: START_AT, durationMs: 24 * HOUR_MS };
    const done = await measureReplay(folder, fleet, 500);
    rmSync(folder, { recursive: true, force: true });
    all.push(done);
    tell(`replay, round ${round + 1}: ${formatCount(done.perSecond)}/s`);
    rows.push([
      formatCount(done.sensors),
      formatCount(done.readings),
      formatCount(done.perSecond),
      done.cores?.toFixed(2) ?? '-',
      done.bytesPerReading.toFixed(1),
      formatMegabytes(Math.max(...done.memory)),
    ]);
  }
  results['replay'] = { perSecond: median(all.map((r) => r.perSecond)), rounds: all };
  console.log(
    `\nreplay of a day, through core and store, start of the process included\n${formatTable(rows)}`,
  );
}

async function benchMemory(wishes: Wishes, results: Record<string, unknown>): Promise<void> {
  const seconds = Math.max(wishes.seconds * wishes.rounds * 6, 20);
  const program = compileLoad(wishes.folder);
  const folder = join(wishes.folder, 'memory');
  const live = await measureLiveMemory(folder, program, { sensors: 1000, intervalMs: 10_000, seconds });
  results['memory'] = live;
  const rows = [
    ['sensors', 'seconds', 'at the end', 'highest'],
    [
      formatCount(live.sensors),
      formatCount(live.seconds),
      formatMegabytes(live.samples.at(-1) ?? null),
      formatMegabytes(live.highest),
    ],
  ];
  console.log(`\nresident memory, every sensor connected and reporting each 10 s\n${formatTable(rows)}`);
}

async function benchMonth(wishes: Wishes, results: Record<string, unknown>): Promise<void> {
  const fleet = { sensors: 20, intervalMs: 10_000, startAt: START_AT, durationMs: 30 * 24 * HOUR_MS };
  const done = await measureReplay(join(wishes.folder, 'month'), fleet, 250);
  results['month'] = done;
  const parts = Array.from({ length: 6 }, (_, i) => {
    const from = Math.floor((i * done.memory.length) / 6);
    const to = Math.max(from + 1, Math.floor(((i + 1) * done.memory.length) / 6));
    return median(done.memory.slice(from, to));
  });
  const heading = parts.map((_, i) => `days ${i * 5 + 1} to ${i * 5 + 5}`);
  const row = parts.map((bytes) => formatMegabytes(bytes));
  const title = `resident memory over a simulated month, ${formatCount(done.readings)} readings of ${done.sensors} sensors at ${formatCount(done.perSecond)}/s, ${done.bytesPerReading.toFixed(1)} bytes a reading on disk`;
  console.log(`\n${title}\n${formatTable([heading, row])}`);
}

async function benchRegate(wishes: Wishes, results: Record<string, unknown>): Promise<void> {
  const fleet = { sensors: 1000, intervalMs: 10_000, durationMs: 24 * HOUR_MS };
  const done = await measureRegateMemory(join(wishes.folder, 'regate'), fleet, 60_000);
  results['regate'] = done;
  const rows = [
    ['sensors', 'readings', 'before', 'highest meanwhile'],
    [
      formatCount(done.replay.sensors),
      formatCount(done.replay.readings),
      formatMegabytes(done.before),
      formatMegabytes(done.highest),
    ],
  ];
  console.log(
    `\nresident memory while late drive states make a day be looked at again\n${formatTable(rows)}`,
  );
}

function benchCompare(wishes: Wishes, results: Record<string, unknown>): void {
  const rows = [['motors', 'bins', 'sisters', 'two half years', 'plan list', 'by the clock', 'hash']];
  const all = [];
  for (const [motors, bins] of [
    [8, 1],
    [12, 1],
    [8, 4],
    [12, 4],
  ] as const) {
    const folder = mkdtempSync(join(wishes.folder, 'compare-'));
    const done = measureCompare({ folder, motors, bins, hours: 8760, rounds: 4 * wishes.rounds });
    rmSync(folder, { recursive: true, force: true });
    all.push(done);
    const figures = [done.cpuMs.sisters, done.cpuMs.periods, done.cpuMs.plan, done.wallMs.sisters];
    const cells = figures.map((ms) => `${ms.toFixed(1)} ms`);
    rows.push([String(motors), String(bins), ...cells, done.hash]);
  }
  results['compare'] = all;
  console.log(`\ncomparisons over a year of hours, processor time of one question\n${formatTable(rows)}`);
}

function benchHover(wishes: Wishes, results: Record<string, unknown>): void {
  const cases = [
    { shape: 'clusters', dispersion: 1 },
    { shape: 'clusters', dispersion: 5 },
    { shape: 'clusters', dispersion: 20 },
    { shape: 'blocks', dispersion: 20 },
    { shape: 'switching', dispersion: 20 },
    { shape: 'switching', dispersion: 50 },
  ] as const;
  const fixed = { ratePerMin: 300, burstS: 60, days: 30, seeds: 2 * wishes.rounds };
  const found = cases.map((one) => measureHover({ ...one, ...fixed }));
  results['hover'] = found;
  console.log(`\n${formatHover(found)}`);
}

async function benchReaders(wishes: Wishes, results: Record<string, unknown>): Promise<void> {
  const found = await measureReaders({
    ...{ folder: join(wishes.folder, 'readers'), program: compileLoad(wishes.folder), browsers: 10 },
    ...{ sensors: 4, days: 365, rounds: wishes.rounds, seconds: wishes.seconds },
    ...{ connections: 200, perSecond: 200, tell },
  });
  results['page-readers'] = found;
  console.log(`\n${formatReaders(found)}`);
}

async function benchPostgres(wishes: Wishes, results: Record<string, unknown>): Promise<void> {
  const bin = findPostgres();
  if (bin === null) return tell(WITHOUT_POSTGRES);
  const found = await measurePostgres({ bin, rounds: wishes.rounds, rows: 60_000 });
  results['postgres'] = found;
  console.log(`\n${formatPostgres(found)}\n${found.hash}`);
}

async function benchSinks(wishes: Wishes, results: Record<string, unknown>): Promise<void> {
  if (MISSING_RECEIVERS !== null) return tell(MISSING_RECEIVERS);
  const found = await measureSinks({
    ...{ folder: join(wishes.folder, 'sinks'), program: compileLoad(wishes.folder), arms: SINK_ARMS },
    ...{ rounds: wishes.rounds, seconds: wishes.seconds, connections: 200, perSecond: 500, tell },
  });
  results['sinks'] = found;
  console.log(`\n${formatSinks(found)}`);
}

async function main(): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-bench-'));
  try {
    const wishes = readWishes(folder);
    const model = cpus()[0]?.model ?? 'unknown processor';
    const machine = `${availableParallelism()} cores (${model}), Node.js ${process.versions.node}`;
    const results: Record<string, unknown> = {
      machine,
      date: new Date().toISOString(),
      rounds: wishes.rounds,
      seconds: wishes.seconds,
    };
    console.log(`${machine}; ${wishes.rounds} rounds of ${wishes.seconds} s`);
    await benchScenarios(wishes, results);
    if (wishes.only.includes('core')) benchCore(wishes, results);
    if (wishes.only.includes('replay')) await benchReplay(wishes, results);
    if (wishes.only.includes('memory')) await benchMemory(wishes, results);
    if (wishes.only.includes('month')) await benchMonth(wishes, results);
    if (wishes.only.includes('regate')) await benchRegate(wishes, results);
    if (wishes.only.includes('compare')) benchCompare(wishes, results);
    if (wishes.only.includes('hover')) benchHover(wishes, results);
    if (wishes.only.includes('page-readers')) await benchReaders(wishes, results);
    if (wishes.only.includes('postgres')) await benchPostgres(wishes, results);
    if (wishes.only.includes('sinks')) await benchSinks(wishes, results);
    if (wishes.json !== null) writeFileSync(wishes.json, `${JSON.stringify(results, null, 2)}\n`);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

await main();
