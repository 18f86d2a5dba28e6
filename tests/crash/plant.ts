/** The plant of the crash runs: motors under load, and one whose alarm must live through every crash. */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { runTallypost } from '../support/gateway-process.js';

export const SITE = 'crash';
export const ALARM_MOTOR = 'alarmed';
export const ALARM_ID = `${ALARM_MOTOR}.de-rate-high`;

const HALF_HOUR_S = 1_800;
const RATE_PER_MIN = 600;
/** replay lets time go on for a while behind the last line; the gateway must not begin before that */
const BEFORE_MS = 600_000;

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

/** Half an hour of readings far above the setpoint, up to ten minutes ago, recorded and run into the store. */
export async function provokeAlarm(folder: string, configFile: string, dataDir: string): Promise<void> {
  const startAt = Date.now() - HALF_HOUR_S * 1000 - BEFORE_MS;
  const lines: string[] = [];
  const say = (arrived: number, topic: string, payload: object): void => {
    const full = `${SITE}/in/${ALARM_MOTOR}/${topic}`;
    lines.push(JSON.stringify({ arrived, client: ALARM_MOTOR, topic: full, payload }));
  };
  say(startAt, 'drive/state', { state: 'running', at: startAt, since: startAt - 3_600_000 });
  for (let seq = 0; seq * 10 < HALF_HOUR_S; seq++) {
    const at = startAt + seq * 10_000;
    say(at + 50, 'de/reading', { device: 'SN-A', boot: 1, seq, count: (seq * RATE_PER_MIN) / 6, at });
  }
  const capture = join(folder, 'alarm.ndjson');
  writeFileSync(capture, `${lines.join('\n')}\n`);
  const done = await runTallypost(['replay', '--config', configFile, '--data', dataDir, capture]);
  if (done.code !== 0) throw new Error(`replay ended with ${done.code}:\n${done.err}`);
}
