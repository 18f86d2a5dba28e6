/** The files of a day are written whole each time: how often follows from how long that takes. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { openFilesSink } from '../../src/forward/files.js';
import { makeParts, rollupRecords } from './made-records.js';

const folder = mkdtempSync(join(tmpdir(), 'tallypost-files-'));
afterEach(() => rmSync(folder, { recursive: true, force: true }));

test('the longer a batch takes to write, the longer new records are gathered, up to ten minutes', async () => {
  const clock = { ms: 0, stepMs: 0 };
  const steady = (): number => (clock.ms += clock.stepMs);
  const settings = { kind: 'files', folder, format: 'csv', everyS: 60 } as const;
  const sink = openFilesSink(settings, makeParts({ steady }));
  const { signal } = new AbortController();
  await sink.open(signal);
  expect(sink.gatherMs).toBe(60_000);
  for (const [stepMs, gatherMs] of [
    [500, 60_000],
    [6_000, 120_000],
    [45_000, 600_000],
    [20, 60_000],
  ] as const) {
    clock.stepMs = stepMs;
    expect(await sink.send(rollupRecords(5), signal)).toEqual({ outcome: 'taken' });
    expect(sink.gatherMs).toBe(gatherMs);
  }
  await sink.close();
});
