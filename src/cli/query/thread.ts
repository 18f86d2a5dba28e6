/**
 * The reading thread: questions in, answers out, one at a time. It gives way to intake and engine: where the cores are few,
 * somebody who looks at a year must not keep a sensor waiting.
 */
import { parentPort, workerData } from 'node:worker_threads';
import { giveWay } from '../give-way.js';
import { Answerer } from './answer.js';
import type { Question } from './question.js';

const port = parentPort;
if (port === null) throw new Error('this file runs as a thread only');
giveWay();
const answerer = new Answerer((workerData as { dataDir: string }).dataDir);
port.on('message', (question: Question) => {
  void answerer.answer(question).then((answer) => port.postMessage(answer));
});
