/** Opens the real store for the engine, and keeps it within its bounds. */
import { statSync } from 'node:fs';
import { join } from 'node:path';
import { FILE_NAME } from '../store/open.js';
import { openStore, type StoreOptions } from '../store/store.js';
import type { EngineStore } from './engine-store.js';
import type { EngineSettings } from './protocol.js';

/**
 * Pages in memory of a gateway that runs: those that a thousand sensors write to, and some. What is read again is in the
 * operating system's cache, which others may have when they need it.
 */
export const LIVE_CACHE_BYTES_MAX = 24 * 1024 * 1024;

export function openEngineStore(settings: EngineSettings, options: StoreOptions = {}): EngineStore {
  const { dataDir, storage, forwards } = settings;
  const store = openStore(dataDir, { ...options, ...(forwards === undefined ? {} : { forwards }) });
  const wal = join(dataDir, `${FILE_NAME}-wal`);
  return {
    setAside: store.setAside,
    begin: () => store.begin(),
    apply: (outputs, isTold) => store.apply(outputs, isTold),
    quarantine: (rows) => store.quarantine(rows),
    answer: (need) => store.answer(need),
    enterOutbox: (now) => store.enterOutbox(now),
    settleOutbox: (done) => store.settleOutbox(done),
    commit: () => store.commit(),
    rollback: () => store.rollback(),
    restore: (plan, reachMs) => store.restore(plan, reachMs),
    backup: (path) => store.backup(path),
    tidy: (now) => {
      if (sizeOf(wal) > storage.walBytesMax) store.checkpointWal();
      return store.retain(now, storage.retention) > 0;
    },
    close: () => store.close(),
  };
}

function sizeOf(path: string): number {
  return statSync(path, { throwIfNoEntry: false })?.size ?? 0;
}
