/**
 * The running configuration, rehearsed over what a simulated plant left in the store, against the journal that the live core
 * wrote: the same alarms, raised and returned at the same times. Where data came late, against a plant without lateness.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { stringify, parse } from 'yaml';
import { writeGatewayConfig } from '../../simulator/gateway-config.js';
import { resolveScenario } from '../../simulator/scenario.js';
import { DEFAULT_START, simulate } from '../../simulator/simulation.js';
import type { Fact } from '../../src/core/facts.js';
import type { Plan } from '../../src/core/plan.js';
import type { Rehearsal } from '../../src/rehearsal/outcome.js';
import { rehearse } from '../../src/rehearsal/rehearse.js';
import { openDatabase } from '../../src/store/open.js';
import { openReader } from '../../src/store/reader.js';
import { makePunctual, planOfConfig, storePlant, type StoredPlantWishes } from '../support/stored-plant.js';

const folder = mkdtempSync(join(tmpdir(), 'rehearsal-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

interface Wishes {
  readonly seed: number;
  readonly hours: number;
  readonly outages?: boolean;
  readonly bins?: boolean;
  /** from this minute on the third motor discharges so many times as often, until the other */
  readonly rise: readonly [from: number, to: number];
  readonly factor?: number;
  readonly intervalMs?: number;
}

function makePlant({ seed, hours, outages = false, bins = false, rise, ...wishes }: Wishes) {
  const { intervalMs = 10_000, factor: risen = 3 } = wishes;
  const motor = (factor: number) => ({
    dutyGroup: 'pumps',
    duty: { runMinutes: 90, stopMinutes: 60 },
    speed: bins ? { profile: 'steps' as const, stepMinutes: 25, swing: 0.4 } : {},
    eachPosition: {
      discharge: {
        ratePerMin: 60,
        bursts: { perHour: 12, meanSeconds: 20, factor: 2 },
        startPulses: 400,
        stopPulses: 200,
        backgroundPerMin: 0.2,
        condition:
          factor === 1
            ? []
            : [
                { atMinute: rise[0], factor },
                { atMinute: rise[1], factor: 1 },
              ],
      },
      device: { intervalMs, ...(outages ? { outages: { perDay: 3, minutes: 14 } } : {}) },
    },
    positions: { de: {} },
    alarms: { 'rate-high': { setpointPerMin: 100, rationale: 'Found in its first year.' } },
  });
  const scenario = resolveScenario({
    site: 'tarn-hollow',
    motors: { 'pump-1': motor(1), 'pump-2': motor(1), 'pump-3': motor(risen), 'pump-4': motor(1) },
  });
  const config = parse(writeGatewayConfig(scenario)) as Record<string, unknown>;
  if (bins)
    config['dutyGroups'] = {
      pumps: { bins: { speed: { edges: [900, 1200, 1400] }, load: { edges: [70] } } },
    };
  const { messages } = simulate(scenario, seed, hours);
  return { messages, config };
}

let folders = 0;
function store(wishes: Omit<StoredPlantWishes, 'dataDir'>): string {
  const dataDir = join(folder, `plant-${(folders += 1)}`);
  storePlant({ ...wishes, dataDir });
  return dataDir;
}

/** As retention does after some days. */
function forgetIncrements(dataDir: string): void {
  const opened = openDatabase(dataDir);
  opened.db.exec(
    'DELETE FROM increment; DELETE FROM chain_part; DELETE FROM chain; DELETE FROM window_revision',
  );
  opened.close();
}

function play(dataDir: string, running: Plan, candidate: Plan, from: number | null = 0): Rehearsal {
  const reader = openReader(dataDir);
  try {
    const run = rehearse(reader, { running, candidate, from, to: null });
    for (let step = run.next(); ; step = run.next()) if (step.done === true) return step.value;
  } finally {
    reader.close();
  }
}

/** `id from to` of the journal and of the running configuration played, of the rehearsed kinds. */
function lists({ alarms }: Rehearsal): { journal: string[]; played: string[] } {
  const own = alarms.filter(({ notRehearsed }) => notRehearsed === '');
  const list = (of: 'journal' | 'running'): string[] =>
    own.flatMap((alarm) => alarm[of]!.activations.map(({ from, to }) => `${alarm.id} ${from} ${to}`));
  return { journal: list('journal'), played: list('running') };
}

function kindsOf(found: readonly string[]): string[] {
  return [...new Set(found.map((line) => line.split(' ')[0]!.replace(/^.*\.de-/, '')))].sort();
}

describe('the running configuration rehearsed', () => {
  for (const seed of [1, 2, 3]) {
    it(`gives what the journal holds, rates: seed ${seed}`, () => {
      const { messages, config } = makePlant({ seed, hours: 30, rise: [400, 1100] });
      const plan = planOfConfig(stringify(config));
      const dataDir = store({ plan, messages });
      const found = lists(play(dataDir, plan, plan));
      expect(found.played).toEqual(found.journal);
      expect(kindsOf(found.journal)).toEqual(['rate-high']);
    });

    it(`gives what the journal holds, with condition bins and restarts: seed ${seed}`, () => {
      const { messages, config } = makePlant({ seed, hours: 30, bins: true, rise: [300, 1100] });
      const plan = planOfConfig(stringify(config));
      const restarts = [5.3, 9.1, 16].map((hours) => DEFAULT_START + hours * HOUR_MS);
      const dataDir = store({ plan, messages, restarts });
      const answer = play(dataDir, plan, plan);
      const found = lists(answer);
      const raises = (lines: readonly string[]): string[] =>
        lines.map((line) => line.split(' ').slice(0, 2).join(' '));
      expect(raises(found.played)).toEqual(raises(found.journal));
      expect(found.journal.length).toBeGreaterThan(0);
      // a restarted gateway remembers fewer minutes: a return that takes more than two hours of them may be found at another time
      for (const { journalDifferences } of answer.alarms)
        for (const { what, reason } of journalDifferences)
          expect([what, reason]).toEqual(['another-return', 'unexplained']);
    });

    it(`gives what the journal holds, with condition bins: seed ${seed}`, () => {
      const { messages, config } = makePlant({ seed, hours: 30, bins: true, rise: [300, 1100] });
      const plan = planOfConfig(stringify(config));
      const dataDir = store({ plan, messages });
      const found = lists(play(dataDir, plan, plan));
      expect(found.played).toEqual(found.journal);
      expect(found.journal.length).toBeGreaterThan(0);
      forgetIncrements(dataDir);
      expect(lists(play(dataDir, plan, plan))).toEqual(found);
    });
  }

  it('gives what the journal holds, in the first hour of all, whose dispersion is found as it goes', () => {
    let raised = 0;
    for (let seed = 1; seed <= 8; seed++) {
      const { messages, config } = makePlant({ seed, hours: 3, factor: 2.4, rise: [0, 150] });
      const plan = planOfConfig(stringify(config));
      const found = lists(play(store({ plan, messages }), plan, plan));
      expect(found.played).toEqual(found.journal);
      raised += found.journal.length;
    }
    expect(raised).toBeGreaterThan(2);
  });

  for (const seed of [2, 5]) {
    it(`gives what the journal holds, deviations over weeks, with an action that is withdrawn: seed ${seed}`, () => {
      const rise = [8 * 1440, 11.5 * 1440] as const;
      const { messages, config } = makePlant({ seed, hours: 13 * 24, rise, factor: 6, intervalMs: 30_000 });
      const plan = planOfConfig(stringify(config));
      const at = DEFAULT_START + 11.2 * DAY_MS;
      const action: Fact = {
        ...{
          kind: 'action',
          motor: 'pump-3',
          action: 'regreased',
          end: null,
          bearing: null,
          breaks: 'motor',
        },
        ...{ at: at - 2 * HOUR_MS, by: 'J. Field', note: '', says: 'regreased', receivedAt: at },
      };
      const withdrawal: Extract<Fact, { kind: 'withdraw' }> = {
        ...{ kind: 'withdraw', of: 'action', motor: 'pump-3', id: 1 },
        ...{ by: 'J. Field', note: 'it was pump-2', receivedAt: at + 7 * HOUR_MS },
      };
      const dataDir = store({
        plan,
        messages,
        entries: [
          [at, action],
          [withdrawal.receivedAt, withdrawal],
        ],
      });
      const answer = play(dataDir, plan, plan);
      const found = lists(answer);
      expect(found.played).toEqual(found.journal);
      expect(kindsOf(found.journal)).toEqual(
        expect.arrayContaining(['above-baseline', 'above-peers', 'rate-high', 'rising']),
      );
      expect(answer.alarms.every(({ differs }) => !differs)).toBe(true);
      const late = play(dataDir, plan, plan, DEFAULT_START + 10 * DAY_MS);
      expect(lists(late).played).toEqual(lists(late).journal);
    });
  }

  for (const seed of [4, 6]) {
    it(`gives over late data what punctual data raised, and says so of what differs: seed ${seed}`, () => {
      const { messages, config } = makePlant({ seed, hours: 48, outages: true, rise: [600, 1700] });
      const plan = planOfConfig(stringify(config));
      const down = { from: DEFAULT_START + 20 * HOUR_MS, to: DEFAULT_START + 22 * HOUR_MS };
      const late = play(store({ plan, messages, down, restarts: [down.to] }), plan, plan);
      const punctual = play(store({ plan, messages: makePunctual(messages) }), plan, plan);
      expect(lists(punctual).played).toEqual(lists(punctual).journal);
      expect(lists(late).played).toEqual(lists(punctual).journal);
      const differences = late.alarms.flatMap((alarm) => alarm.journalDifferences);
      expect(differences.length === 0).toBe(lists(late).played.join() === lists(late).journal.join());
      for (const { reason } of differences) expect(reason).toBe('live-knew-later');
    });
  }
});
