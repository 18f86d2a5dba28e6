import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { Clock, SYSTEM_CLOCK } from '../../src/engine/clock.js';
import { CORE } from '../../src/engine/engine-core.js';
import { Engine } from '../../src/engine/engine.js';
import type { FrameBatch, FromEngine } from '../../src/engine/protocol.js';
import { openEngineStore } from '../../src/engine/store-adapter.js';
import { BatchWriter, FrameKind } from '../../src/intake/batch-writer.js';
import { openReader } from '../../src/store/reader.js';
import { prepareFolder, readConfigFile, READING_TOPIC, reading, waitFor } from './gateway-rig.js';

/** One reading; `names` are those that the batch brings, the first two are its client and its topic where it resets them. */
function batchOf(id: number, seq: number, names: readonly string[], resetNames: boolean): FrameBatch {
  const writer = new BatchWriter(64, null);
  writer.add(FrameKind.publish, 0, Date.now(), 0, 1, Buffer.from(reading(seq, 100 + seq)));
  return { id, buffer: writer.buffer, length: writer.length, count: 1, names, resetNames };
}

it('of two batches on their way none is stored when the first fails, however late the second comes', async () => {
  const dataDir = mkdtempSync(join(tmpdir(), 'tallypost-'));
  const { folder, file } = prepareFolder({});
  const { config, plan } = readConfigFile(file);
  const store = openEngineStore({ dataDir, plan, minCommitIntervalMs: 0, storage: config.storage });
  const said: FromEngine[] = [];
  const faults = { commit: false };
  const engine = new Engine({
    ...{ plan, core: CORE, clock: new Clock(SYSTEM_CLOCK), minCommitIntervalMs: 0 },
    openStore: () => ({
      ...store,
      commit: () => {
        if (faults.commit) throw Object.assign(new Error('disk I/O error'), { code: 'SQLITE_IOERR' });
        store.commit();
      },
    }),
    post: (message) => void said.push(message),
  });
  const count = (kind: FromEngine['kind']): number => said.filter((message) => message.kind === kind).length;
  const hand = (batch: FrameBatch): void => engine.receive({ kind: 'batch', batch });
  try {
    engine.start();
    await waitFor('ready', () => count('ready') === 1);
    hand(batchOf(1, 1, ['client', READING_TOPIC], true));
    await waitFor('first batch', () => count('done') === 1);
    faults.commit = true;
    hand(batchOf(2, 2, [], false));
    hand(batchOf(3, 3, [], false));
    await waitFor('halted', () => count('halted') > 0);
    faults.commit = false;
    await waitFor('ready again', () => count('ready') === 2);
    // numbers that another engine gave: to this one they could be anybody's
    hand(batchOf(4, 4, [READING_TOPIC, READING_TOPIC], false));
    hand(batchOf(5, 5, ['client', READING_TOPIC], true));
    await waitFor('a batch of the new names', () => count('done') === 2);
    engine.receive({ kind: 'call', id: 1, call: { do: 'stop' } });
    await waitFor('stopped', () => count('answer') === 1);
    expect(said.flatMap((message) => (message.kind === 'done' ? [message.id] : []))).toEqual([1, 5]);
    const reader = openReader(dataDir);
    const rows = [...reader.increments({ sensor: null, from: null, to: null })].flat();
    expect(rows.map(({ count: stored }) => stored)).toEqual([101, 105]);
    expect(reader.quarantine({ from: null, to: null, limit: 10, cursor: null }).items).toEqual([]);
    reader.close();
  } finally {
    rmSync(dataDir, { recursive: true, force: true });
    rmSync(folder, { recursive: true, force: true });
  }
});
