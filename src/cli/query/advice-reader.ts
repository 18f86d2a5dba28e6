/**
 * What the reliability engineer asks, on threads of its own: neither live readers nor the intake wait for it. The plan list
 * reads the whole plant, and the performance of the alarms the whole journal, so that they have a lane to
 * themselves and no comparison waits behind them.
 */
import type { AdviceReader } from '../../api/advice-reader.js';
import { QueryLane } from './lane.js';

const WAITING_MOST = 32;
const PLANS_WAITING_MOST = 4;

/** `close` ends the threads; what waits then is rejected. */
export function openAdviceReader(dataDir: string): AdviceReader & { close(): Promise<void> } {
  const lane = new QueryLane(dataDir, WAITING_MOST);
  const plans = new QueryLane(dataDir, PLANS_WAITING_MOST);
  return {
    compare: (argument) => lane.ask('compare', argument),
    baselines: (sensors) => lane.ask('baselines', sensors),
    performance: (wish) => plans.ask('performance', wish),
    plan: (fleet) => plans.ask('plan', fleet),
    dossier: (argument) => plans.ask('dossier', argument),
    close: async () => {
      await Promise.all([lane.close(), plans.close()]);
    },
  };
}
