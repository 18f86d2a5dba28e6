/** Opens the real store for the engine, and keeps it within its bounds. */
import { statSync } from 'node:fs';
import { join } from 'node:path';
import { FILE_NAME } from '../store/open.js';
import { openStore } from '../store/store.js';
import type { EngineStore } from './engine-store.js';
import type { EngineSettings } from './protocol.js';

export function openEngineStore(settings: EngineSettings): EngineStore {
  const { dataDir, storage } = settings;
  const store = openStore(dataDir);
  const wal = join(dataDir, `${FILE_NAME}-wal`);
  return {
    setAside: store.setAside,
    begin: () => store.begin(),
    apply: (outputs, isTold) => store.apply(outputs, isTold),
    quarantine: (rows) => store.quarantine(rows),
    answer: (need) => store.answer(need),
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
