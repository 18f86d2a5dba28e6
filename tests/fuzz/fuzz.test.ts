import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { runFuzz } from './run.js';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(`${tmpdir()}/tallypost-fuzz-`);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('rubbish on the MQTT port', () => {
  it('2,000 malformed packets, topics and payloads: no crash, bounded memory, explained, and an honest device notices nothing', async () => {
    const seed = Number(process.env['FUZZ_SEED'] ?? 20261125);
    const report = await runFuzz({
      folder,
      count: 2_000,
      seed,
      connections: 8,
      memoryMax: 350e6,
      tell: () => undefined,
    });
    expect(report.findings, `seed ${seed}`).toEqual([]);
    expect(report.sent).toBe(2_000);
    expect(report.quarantined).toBeGreaterThan(0);
    expect(report.healthyAcknowledged).toBeGreaterThan(2);
  }, 120_000);
});
