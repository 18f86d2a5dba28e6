/** The thread of one rehearsal: it ends with its answer. */
import { parentPort, workerData } from 'node:worker_threads';
import type { RehearsalWish } from './rehearse.js';
import { runHere, type RehearsalNews } from './run-here.js';

const port = parentPort;
if (port === null) throw new Error('this file runs as a thread only');
const { dataDir, wish } = workerData as { dataDir: string; wish: RehearsalWish };
for (const news of runHere(dataDir, wish)) port.postMessage(news satisfies RehearsalNews);
