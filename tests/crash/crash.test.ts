import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { crashBetween } from './between.js';
import { runCrashes } from './run.js';

const FIRST_COMMITS = [1, 5, 40] as const;

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-crash-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('SIGKILL under load', () => {
  it('20 kills lose nothing that was acknowledged, double nothing, and leave the alarm as it was', async () => {
    const seed = Number(process.env['CRASH_SEED'] ?? 20261125);
    const report = await runCrashes({
      folder: join(folder, 'kills'),
      kills: 20,
      seed,
      window: 10,
      paceMs: 0,
      tell: () => undefined,
    });
    expect(report.findings, `seed ${seed}`).toEqual([]);
    expect(report.acknowledged).toBeGreaterThan(1_000);
    expect(report.reconnects).toBeGreaterThan(20);
  }, 240_000);
});

describe('a crash exactly at a commit', () => {
  it('after the commit and before the acknowledgement: the readings are stored, and sent again they count once', async () => {
    const untold: number[] = [];
    for (const commit of FIRST_COMMITS) {
      const report = await crashBetween(join(folder, `after-${commit}`), 'after', commit);
      expect(report.findings, `after commit ${commit}`).toEqual([]);
      untold.push(report.storedUntold);
    }
    // commits of the start and of ticks carry no readings; most of the later ones do
    expect(Math.max(...untold)).toBeGreaterThan(0);
  }, 240_000);

  it('before the commit: what was in the batch is sent again and counts once', async () => {
    for (const commit of FIRST_COMMITS) {
      const report = await crashBetween(join(folder, `before-${commit}`), 'before', commit);
      expect(report.findings, `before commit ${commit}`).toEqual([]);
    }
  }, 240_000);
});
