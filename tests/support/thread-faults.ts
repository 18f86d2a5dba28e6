/**
 * Loaded first into every thread of a gateway under test: reads from a file what is to go wrong in which thread, and says which
 * packages a thread has loaded. The file is named by `TALLYPOST_TEST_FAULTS`; each order in it is taken once.
 */
import { readFileSync, renameSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { isMainThread, workerData } from 'node:worker_threads';

/** `THREAD WHAT` */
export type FaultOrder = `${'main' | 'web'} ${'throw' | 'fill-memory' | 'hang' | 'list-packages'}`;

const HANG_MS = 8_000;
const LOOK_EVERY_MS = 20;
const file = process.env['TALLYPOST_TEST_FAULTS'] ?? '';

function nameOfThread(): 'main' | 'web' | null {
  if (isMainThread) return 'main';
  return typeof workerData === 'object' && workerData !== null && 'inForce' in workerData ? 'web' : null;
}

/** null: there is none for this thread */
function takeOrder(): string | null {
  try {
    const [thread, what = ''] = readFileSync(file, 'utf8').trim().split(' ');
    if (thread !== nameOfThread()) return null;
    renameSync(file, `${file}.taken`);
    return what;
  } catch {
    return null;
  }
}

/** Names of the packages of which something is loaded in this thread, of those that are loaded as CommonJS. */
function listPackages(): string[] {
  const paths = Object.keys(createRequire(import.meta.url).cache);
  return [...new Set(paths.flatMap((path) => /node_modules\/((?:@[^/]+\/)?[^/]+)/.exec(path)?.[1] ?? []))];
}

function doWrong(what: string): void {
  switch (what) {
    case 'throw':
      throw new Error('it was ordered to fail');
    case 'fill-memory':
      for (const kept: number[][] = []; ;) kept.push(new Array<number>(1_000_000).fill(0.5));
    case 'hang':
      Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, HANG_MS);
      return;
    case 'list-packages':
      writeFileSync(`${file}.packages`, JSON.stringify(listPackages()));
  }
}

if (file !== '' && nameOfThread() !== null)
  setInterval(() => {
    const what = takeOrder();
    if (what !== null) doWrong(what);
  }, LOOK_EVERY_MS).unref();
