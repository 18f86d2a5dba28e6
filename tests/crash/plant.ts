/** The plant of the crash runs: motors under load, and one whose alarm must live through every crash. */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import mqtt from 'mqtt';

export const SITE = 'crash';
export const ALARM_MOTOR = 'alarmed';
export const ALARM_ID = `${ALARM_MOTOR}.de-rate-high`;

const HALF_HOUR_S = 1_800;
const RATE_PER_MIN = 600;

export function writeCrashPlant(folder: string, motors: readonly string[]): string {
  const file = join(folder, 'crash.yaml');
  const text = `site: ${SITE}
templates:
  loaded:
    positions:
      de: { intervalMs: 1000, maxRatePerS: 10000000 }
motors:
${motors.map((motor) => `  ${motor}: { template: loaded }`).join('\n')}
  ${ALARM_MOTOR}:
    positions:
      de: { intervalMs: 10000 }
    alarms:
      rate-high:
        setpointPerMin: 60
        onDelayMs: 0
        windowMs: 60000
        rationale: Low, so that it is raised at once.
`;
  mkdirSync(folder, { recursive: true });
  writeFileSync(file, text);
  return file;
}

/** Half an hour of readings far above the setpoint, all acknowledged when this resolves. */
export async function provokeAlarm(port: number): Promise<void> {
  const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${port}`, {
    clientId: 'provoker',
    reconnectPeriod: 0,
  });
  const startAt = Date.now() - HALF_HOUR_S * 1000 - 60_000;
  const publish = (topic: string, body: object): Promise<unknown> =>
    client.publishAsync(`${SITE}/in/${ALARM_MOTOR}/${topic}`, JSON.stringify(body), { qos: 1 });
  await publish('drive/state', { state: 'running', at: startAt, since: startAt - 3_600_000 });
  const all: Promise<unknown>[] = [];
  for (let seq = 0; seq * 10 < HALF_HOUR_S; seq++) {
    const at = startAt + seq * 10_000;
    all.push(publish('de/reading', { device: 'SN-A', boot: 1, seq, count: (seq * RATE_PER_MIN) / 6, at }));
  }
  await Promise.all(all);
  await client.endAsync();
}
