/** The engine's thread: opens the engine on what it is given and passes messages. Nothing else runs here. */
import { parentPort, workerData } from 'node:worker_threads';
import { Clock, SYSTEM_CLOCK } from './clock.js';
import { CORE } from './engine-core.js';
import { Engine } from './engine.js';
import type { EngineSettings, ToEngine } from './protocol.js';
import { LIVE_CACHE_BYTES_MAX, openEngineStore } from './store-adapter.js';

const port = parentPort;
if (port === null) throw new Error('the engine runs as a worker thread: start it through engine-host');
const settings = workerData as EngineSettings;

const engine = new Engine({
  plan: settings.plan,
  core: CORE,
  clock: new Clock(SYSTEM_CLOCK),
  minCommitIntervalMs: settings.minCommitIntervalMs,
  openStore: () => openEngineStore(settings, { cacheBytesMax: LIVE_CACHE_BYTES_MAX }),
  post: (message, transfer) => port.postMessage(message, [...transfer]),
});
port.on('message', (message: ToEngine) => engine.receive(message));
engine.start();
