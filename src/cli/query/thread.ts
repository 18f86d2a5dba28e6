/**
 * The reading thread: questions in, answers out, one at a time. It gives way to intake and engine: where the cores are few,
 * somebody who looks at a year must not keep a sensor waiting.
 */
import { setPriority } from 'node:os';
import { parentPort, workerData } from 'node:worker_threads';
import { Answerer } from './answer.js';
import type { Question } from './question.js';

/** Of 0 to 19, what the scheduler calls nice: about a tenth of the share of the others. */
const NICENESS = 10;

const port = parentPort;
if (port === null) throw new Error('this file runs as a thread only');
// on Linux, and only there, a priority is that of the calling thread
if (process.platform === 'linux') setPriority(0, NICENESS);
const answerer = new Answerer((workerData as { dataDir: string }).dataDir);
port.on('message', (question: Question) => port.postMessage(answerer.answer(question)));
