/** The reading thread: questions in, answers out, one at a time. */
import { parentPort, workerData } from 'node:worker_threads';
import { Answerer } from './answer.js';
import type { Question } from './question.js';

const port = parentPort;
if (port === null) throw new Error('this file runs as a thread only');
const answerer = new Answerer((workerData as { dataDir: string }).dataDir);
port.on('message', (question: Question) => port.postMessage(answerer.answer(question)));
