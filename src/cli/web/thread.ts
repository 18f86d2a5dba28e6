/** The thread of the HTTP interface: nothing else runs here. */
import { parentPort, workerData } from 'node:worker_threads';
import { giveWay } from '../give-way.js';
import type { ToWeb, WebSettings } from './protocol.js';
import { WebRoom } from './room.js';

const port = parentPort;
if (port === null) throw new Error('this file runs as a thread only');
const room = new WebRoom(workerData as WebSettings, (message) => {
  port.postMessage(message);
  // not before: on a busy machine the start would wait for everybody else's work
  if (message.kind === 'listening') giveWay();
});
port.on('message', (message: ToWeb) => room.receive(message));
