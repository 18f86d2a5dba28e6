/**
 * Two motors that a test starts, stops and makes sparks at by hand, before a real gateway: readings once a second over MQTT,
 * the state of the drive at every change and every two seconds.
 */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt, { type MqttClient } from 'mqtt';
import { startGatewayProcess } from '../support/gateway-process.js';

const SITE = 'tarn-hollow';
const EVERY_MS = 1_000;
const HEARTBEAT_MS = 2_000;
const MOTOR = `
    zone: hall
    dutyGroup: wells
    drive: { heartbeatMs: ${HEARTBEAT_MS}, runState: reported }
    positions:
      de: { intervalMs: ${EVERY_MS}, counterBits: 32 }
      nde: { intervalMs: ${EVERY_MS}, counterBits: 32 }`;
const CONFIG = `site: ${SITE}
timeZone: Europe/London
mqtt: { listen: 127.0.0.1:1883 }
http: { listen: 127.0.0.1:8080 }
motors:
  well-1:${MOTOR}
  well-2:${MOTOR}
`;
const SENSORS = ['well-1/de', 'well-1/nde', 'well-2/de', 'well-2/nde'];

type State = 'stopped' | 'starting' | 'running' | 'stopping';

export interface HandPlant {
  readonly http: string;
  readonly mqtt: string;
  readonly configFile: string;
  /** pulses that each sensor counts in each second from now on */
  count(sensor: string, perReading: number): void;
  /** from now on the sensor says nothing, or speaks again */
  silence(sensor: string, isSilent: boolean): void;
  /** the drive of `motor` tells another state */
  turn(motor: string, state: State): void;
  publish(topic: string, payload: string): Promise<void>;
  stop(): Promise<void>;
}

interface Sensor {
  count: number;
  seq: number;
  perReading: number;
  isSilent: boolean;
}

/** What the field has and how it stands. */
class Field {
  readonly sensors = new Map<string, Sensor>(
    SENSORS.map((key) => [key, { count: 5, seq: 0, perReading: 0, isSilent: false }]),
  );
  readonly drives = new Map<string, { state: State; since: number }>();
  readonly #timers: NodeJS.Timeout[];

  constructor(readonly client: MqttClient) {
    for (const motor of ['well-1', 'well-2']) this.turn(motor, 'stopped');
    const beat = (): void => [...this.drives.keys()].forEach((motor) => this.tell(motor));
    this.#timers = [setInterval(() => this.read(), EVERY_MS), setInterval(beat, HEARTBEAT_MS)];
  }

  turn(motor: string, state: State): void {
    this.drives.set(motor, { state, since: Date.now() });
    this.tell(motor);
  }

  tell(motor: string): void {
    const { state, since } = this.drives.get(motor)!;
    const body = { state, at: new Date().toISOString(), since: new Date(since).toISOString() };
    this.client.publish(`${SITE}/in/${motor}/drive/state`, JSON.stringify(body), { qos: 1, retain: true });
  }

  read(): void {
    for (const [key, sensor] of this.sensors) {
      if (sensor.isSilent) continue;
      sensor.count += sensor.perReading;
      sensor.seq += 1;
      const body = { device: `SN-${key.replace('/', '-')}`, boot: 1, seq: sensor.seq, count: sensor.count };
      const at = new Date().toISOString();
      this.client.publish(`${SITE}/in/${key}/reading`, JSON.stringify({ ...body, at }), { qos: 1 });
    }
  }

  end(): void {
    for (const timer of this.#timers) clearInterval(timer);
  }
}

export async function startHandPlant(): Promise<HandPlant> {
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-hand-'));
  const configFile = join(folder, 'wells.yaml');
  writeFileSync(configFile, CONFIG);
  const gateway = await startGatewayProcess({ configFile, dataDir: join(folder, 'data') });
  const url = `mqtt://127.0.0.1:${gateway.mqttPort}`;
  const client = await mqtt.connectAsync(url, { clientId: 'field-hand' });
  const field = new Field(client);
  return {
    ...{ http: gateway.http, mqtt: url, configFile },
    count: (sensor, perReading) => void (field.sensors.get(sensor)!.perReading = perReading),
    silence: (sensor, isSilent) => void (field.sensors.get(sensor)!.isSilent = isSilent),
    turn: (motor, state) => field.turn(motor, state),
    publish: async (topic, payload) => void (await client.publishAsync(topic, payload, { qos: 1 })),
    async stop() {
      field.end();
      await client.endAsync(true);
      await gateway.stop();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
