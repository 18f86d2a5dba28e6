/**
 * The forwarder's thread: nothing else runs here. It gives way to intake and engine: where the cores are few, a backlog that
 * drains must not keep a sensor waiting.
 */
import { setPriority } from 'node:os';
import { parentPort, workerData } from 'node:worker_threads';
import type { ForwardSettings, ToForwarder } from './protocol.js';
import { RunningForwarder } from './run-forwarder.js';

/** Of 0 to 19, what the scheduler calls nice: as the threads that read the store have it. */
const NICENESS = 10;

const port = parentPort;
if (port === null) throw new Error('this file runs as a thread only');
// on Linux, and only there, a priority is that of the calling thread
if (process.platform === 'linux') setPriority(0, NICENESS);
const running = new RunningForwarder(workerData as ForwardSettings, (message) => port.postMessage(message));
port.on('message', (message: ToForwarder) => running.receive(message));
