import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { MISSING_RECEIVERS } from '../receivers/receiver-hall.js';
import { runForwardCrashes } from './forward-run.js';

const KILLS = 5;

if (MISSING_RECEIVERS !== null) console.warn(MISSING_RECEIVERS);

it('kills of the gateway and of each receiver lose nothing on the way, and double nothing', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-forward-'));
  const seed = Number(process.env['CRASH_SEED'] ?? 20261126);
  try {
    const report = await runForwardCrashes({ folder, kills: KILLS, seed, tell: () => undefined });
    expect(report.findings, `seed ${seed}`).toEqual([]);
    // how many depends on the machine; none between two kills would mean that nothing was tried
    expect(report.rows).toBeGreaterThan(50 * KILLS);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}, 600_000);
