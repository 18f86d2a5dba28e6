/**
 * Rounds against several targets in turn, so that what the machine does besides hits all of them alike.
 * Each round starts its target afresh: one target runs at a time, and none has the other's history.
 */
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { readCpuSeconds, readMemory } from '../support/child.js';
import { runLoad, type LoadReport } from './load.js';
import { proveStored, type Proof } from './proof.js';
import { median, spreadOf, type Spread } from './spread.js';
import { startTarget, type TargetName } from './targets.js';
import type { Scenario } from './scenarios.js';

export interface RoundWishes {
  readonly folder: string;
  /** the compiled load generator */
  readonly program: string;
  readonly targets: readonly TargetName[];
  readonly rounds: number;
  readonly seconds: number;
  readonly warmupSeconds: number;
  /** readings per sensor in the hash of the result */
  readonly hashed: number;
  /** overrides the scenario: a fixed number of readings per connection */
  readonly messages?: number;
  readonly tell: (line: string) => void;
}

export interface TargetRound {
  readonly load: LoadReport;
  readonly proof: Proof | null;
  /** of the target, as cores used on average over the whole round */
  readonly cores: number | null;
  readonly highestBytes: number | null;
}

export interface TargetResult {
  readonly target: TargetName;
  readonly perSecond: Spread;
  readonly p50Us: number;
  readonly p99Us: number;
  /** the generator's own processor time, the worst round */
  readonly generatorCores: number;
  readonly cores: number | null;
  readonly highestBytes: number | null;
  /** against the bare broker, round by round; null without one */
  readonly ratio: Spread | null;
  /** null: keeps nothing */
  readonly hash: string | null;
  readonly stored: number;
}

export interface ScenarioResult {
  readonly scenario: string;
  readonly says: string;
  readonly rounds: number;
  readonly targets: readonly TargetResult[];
}

export async function runScenario(scenario: Scenario, wishes: RoundWishes): Promise<ScenarioResult> {
  const rounds = new Map<TargetName, TargetRound[]>(wishes.targets.map((name) => [name, []]));
  for (let round = 0; round < wishes.rounds; round++) {
    // turns begin with another target each round
    for (let turn = 0; turn < wishes.targets.length; turn++) {
      const name = wishes.targets[(round + turn) % wishes.targets.length]!;
      const done = await runRound(name, scenario, wishes);
      rounds.get(name)!.push(done);
      const rate = Math.round(done.load.perSecond).toLocaleString('en');
      wishes.tell(
        `${scenario.name}, round ${round + 1}: ${name} ${rate}/s, generator ${done.load.cpuShare.toFixed(2)} cores`,
      );
    }
  }
  const bare = rounds.get('bare');
  const targets = wishes.targets.map((name) => summarise(name, rounds.get(name)!, bare));
  return { scenario: scenario.name, says: scenario.says, rounds: wishes.rounds, targets };
}

async function runRound(name: TargetName, scenario: Scenario, wishes: RoundWishes): Promise<TargetRound> {
  const folder = join(wishes.folder, `${scenario.name}-${name}`);
  rmSync(folder, { recursive: true, force: true });
  const site = 'bench';
  const target = await startTarget(name, folder, {
    site,
    motors: scenario.load.connections,
    intervalMs: 10_000,
  });
  try {
    const messages = wishes.messages ?? scenario.load.messages;
    const cpuBefore = readCpuSeconds(target.pid);
    const startedAt = Date.now();
    const load = await runLoad(wishes.program, {
      ...scenario.load,
      ...(messages === undefined ? {} : { messages }),
      port: target.port,
      site,
      seconds: wishes.seconds,
      warmupSeconds: wishes.warmupSeconds,
    });
    const cpuAfter = readCpuSeconds(target.pid);
    const seconds = (Date.now() - startedAt) / 1000;
    const highestBytes = readMemory(target.pid)?.highest ?? null;
    await target.stop();
    const proof = target.dataDir === null ? null : await proveStored(target.dataDir, load, wishes.hashed);
    const cores = cpuBefore === null || cpuAfter === null ? null : (cpuAfter - cpuBefore) / seconds;
    return { load, proof, cores, highestBytes };
  } finally {
    await target.stop();
    rmSync(folder, { recursive: true, force: true });
  }
}

function summarise(
  name: TargetName,
  rounds: readonly TargetRound[],
  bare: readonly TargetRound[] | undefined,
): TargetResult {
  const ratios =
    bare === undefined ? [] : rounds.map((round, i) => round.load.perSecond / bare[i]!.load.perSecond);
  const hashes = new Set(
    rounds.flatMap((round) => (round.proof === null ? [] : [`${round.proof.hash}/${round.proof.hashed}`])),
  );
  const cores = rounds.flatMap((round) => round.cores ?? []);
  const bytes = rounds.flatMap((round) => round.highestBytes ?? []);
  return {
    target: name,
    perSecond: spreadOf(rounds.map((round) => round.load.perSecond)),
    p50Us: median(rounds.map((round) => round.load.p50Us)),
    p99Us: median(rounds.map((round) => round.load.p99Us)),
    generatorCores: Math.max(...rounds.map((round) => round.load.cpuShare)),
    cores: cores.length === 0 ? null : median(cores),
    highestBytes: bytes.length === 0 ? null : Math.max(...bytes),
    ratio: ratios.length === 0 ? null : spreadOf(ratios),
    hash: hashes.size === 0 ? null : [...hashes].join(' '),
    stored: rounds.reduce((sum, round) => sum + (round.proof?.stored ?? 0), 0),
  };
}
