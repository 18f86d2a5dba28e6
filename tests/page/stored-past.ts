/** A gateway on a past that was written directly: 50,000 minutes of a few pumps, with work, findings and alarms in it. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { startGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';
import { writeDrawnStore } from '../support/drawn-store.js';

const DAY_MS = 86_400_000;
/** 36 days are 51,840 minutes of each sensor. */
export const PAST_DAYS = 36;

const CONFIG = `
site: tarn-hollow
timeZone: Europe/London
motors:
  booster-{1..6}:
    zone: hall
    dutyGroup: boosters
    positions: { de: {}, nde: {} }
    alarms:
      rate-high: { setpointPerMin: 90, deadbandPerMin: 10, rationale: twice what its sisters count }
`;

export interface StoredPast {
  readonly http: string;
  readonly from: number;
  readonly to: number;
  stop(): Promise<void>;
}

/** The past ends with the last day that is over, UTC. */
export async function startStoredPast(): Promise<StoredPast> {
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-past-'));
  const dataDir = join(folder, 'data');
  const to = Math.floor(Date.now() / DAY_MS) * DAY_MS;
  const from = to - PAST_DAYS * DAY_MS;
  const motors = [1, 2, 3, 4, 5, 6].map((n) => ({
    ...{ motor: `booster-${n}`, factor: n === 4 ? 3 : 1 + 0.03 * n, hasMinutes: n === 4 },
  }));
  const plant = { motors, from, days: PAST_DAYS, minuteDays: PAST_DAYS, seed: 3, hasBaseline: false };
  writeDrawnStore(dataDir, plant);
  const configFile = join(folder, 'plant.yaml');
  writeFileSync(configFile, CONFIG);
  const gateway: GatewayProcess = await startGatewayProcess({ configFile, dataDir });
  return {
    http: gateway.http,
    from,
    to,
    async stop() {
      await gateway.stop();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
