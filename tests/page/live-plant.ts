/**
 * The demo plant before a real gateway: a simulated past is replayed into its store, the program runs as a process, and
 * the plant goes on living over MQTT. Ports are free ones, files lie in a folder of their own.
 */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parse, stringify } from 'yaml';
import { prepareStation, type Station } from '../../simulator/demo/station.js';
import { runTallypost, startGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';

export interface PlantFile {
  http: Record<string, unknown>;
  motors: Record<string, { zone?: string; alarms?: Record<string, Record<string, unknown>> }>;
  [key: string]: unknown;
}

export interface LivePlant {
  readonly http: string;
  readonly station: Station;
  /** kill -9; nothing is put in order */
  kill(): Promise<void>;
  /** on the same ports, with the same data */
  restart(): Promise<void>;
  /** changes the configuration file, and has the gateway take it over */
  reload(edit: (file: PlantFile) => void): void;
  stop(): Promise<void>;
}

export interface PlantWishes {
  readonly pastHours?: number;
  /** changes what the simulator wrote of the configuration */
  readonly edit?: (file: PlantFile) => void;
}

/**
 * Alarms of all three priorities, in two areas: what every view can be looked at with. The rates of the plant are those
 * of sound bearings, so the setpoints are lowered to them.
 */
export function askForAlarms(file: PlantFile): void {
  const set = (motor: string, alarm: Record<string, unknown>): void => {
    const { alarms = {} } = file.motors[motor]!;
    file.motors[motor]!.alarms = { ...alarms, 'rate-high': { ...alarms['rate-high'], ...alarm } };
  };
  set('booster-1', { setpointPerMin: 4, deadbandPerMin: 1, priority: 'medium' });
  set('booster-4', { priority: 'high', timeToRespondMs: 1_200_000 });
  set('booster-6', { setpointPerMin: 5, deadbandPerMin: 1, priority: 'low' });
  for (const fan of ['fan-1', 'fan-2']) file.motors[fan]!.zone = 'loft';
}

async function replayPast(station: Station): Promise<void> {
  const options = ['--config', station.config, '--data', station.dataDir, station.pastCapture];
  const { code, err } = await runTallypost(['replay', ...options]);
  if (code !== 0) throw new Error(`the past could not be replayed:\n${err}`);
}

function editFile(path: string, edit: (file: PlantFile) => void): void {
  const file = parse(readFileSync(path, 'utf8')) as PlantFile;
  edit(file);
  writeFileSync(path, stringify(file));
}

export async function startLivePlant({
  pastHours = 3,
  edit = askForAlarms,
}: PlantWishes = {}): Promise<LivePlant> {
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-page-'));
  const station = await prepareStation(folder, true, pastHours);
  editFile(station.config, edit);
  await replayPast(station);
  const wishes = { configFile: station.config, dataDir: station.dataDir };
  let gateway: GatewayProcess = await startGatewayProcess(wishes);
  const ports = { mqtt: gateway.mqttPort, http: gateway.httpPort };
  await station.startPublishing(`mqtt://127.0.0.1:${ports.mqtt}`);
  return {
    http: gateway.http,
    station,
    async kill() {
      gateway.child.process.kill('SIGKILL');
      await gateway.child.ended;
    },
    async restart() {
      gateway = await startGatewayProcess({ ...wishes, ports });
    },
    reload(change) {
      editFile(station.config, change);
      gateway.child.process.kill('SIGHUP');
    },
    async stop() {
      await station.stopPublishing();
      await gateway.stop();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
