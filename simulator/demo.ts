/**
 * `npm run demo`: the main job on a small pumping station, told in plain words as it happens.
 *
 * Three hours of the station's past are simulated up to this very minute and played through the real program; then the
 * gateway starts on the same data, the station goes on living over MQTT, and everything said here about it is read from
 * the outside: its command line, its HTTP interface and its topics. Ends by itself; `--keep` leaves it running.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { followGateway } from './demo/live-part.js';
import { tellPast } from './demo/past-part.js';
import { prepareStation } from './demo/station.js';
import { startGatewayProcess } from './demo/program.js';
import { tellSummary } from './demo/summary-part.js';
import { say, sayHeading } from './demo/voice.js';

const LIVE_SECONDS = 40;
/** what a shell reports of a program that SIGINT ended */
const INTERRUPTED = 130;

async function runDemo(keep: boolean): Promise<void> {
  const startedAt = Date.now();
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-demo-'));
  const leave = (): void => {
    rmSync(folder, { recursive: true, force: true });
    process.exit(INTERRUPTED);
  };
  for (const name of ['SIGINT', 'SIGTERM'] as const) process.once(name, leave);
  sayHeading('Tarn Hollow, a drinking-water pumping station (invented): six booster pumps and two fans');
  say(
    'Each bearing sensor counts discharges; each drive says whether its motor runs. Nothing here is real but the gateway.',
  );
  const station = await prepareStation(folder, keep);
  await tellPast(station);
  const gateway = await startGatewayProcess(station);
  let isOver = false;
  try {
    await followGateway(station, gateway, LIVE_SECONDS);
    for (const name of ['SIGINT', 'SIGTERM'] as const) process.off(name, leave);
    if (keep) await keepRunning(station, gateway.http);
    isOver = true;
  } finally {
    await station.stopPublishing();
    await gateway.stop();
    if (isOver) await tellSummary(station, (Date.now() - startedAt) / 1000);
    rmSync(folder, { recursive: true, force: true });
  }
}

async function keepRunning(station: { keepPublishing(): Promise<void> }, http: string): Promise<void> {
  sayHeading('The station keeps running');
  say(`Look at it on ${http}/ - stop it with Ctrl-C.`);
  await station.keepPublishing();
}

const { values } = parseArgs({ options: { keep: { type: 'boolean', default: false } } });
await runDemo(values.keep);
