/** The forwarder's thread: nothing else runs here. */
import { parentPort, workerData } from 'node:worker_threads';
import type { ForwardSettings, ToForwarder } from './protocol.js';
import { RunningForwarder } from './run-forwarder.js';

const port = parentPort;
if (port === null) throw new Error('this file runs as a thread only');
const running = new RunningForwarder(workerData as ForwardSettings, (message) => port.postMessage(message));
port.on('message', (message: ToForwarder) => running.receive(message));
