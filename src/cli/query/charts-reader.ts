/**
 * What pictures are drawn from, on threads of their own: somebody who zooms holds up neither the alarm list nor a comparison. A
 * view of a motor asks for the curves of its sensors and for what goes under them at once, so that these have a lane each.
 */
import type { ChartsReader } from '../../api/charts-reader.js';
import { QueryLane } from './lane.js';

const WAITING_MOST = 48;

/** `close` ends the threads; what waits then is rejected. */
export function openChartsReader(dataDir: string): ChartsReader & { close(): Promise<void> } {
  const curves = new QueryLane(dataDir, WAITING_MOST);
  const strips = new QueryLane(dataDir, WAITING_MOST);
  return {
    series: (query) => curves.ask('series', query),
    timeline: (query) => strips.ask('timeline', query),
    group: (query) => strips.ask('group', query),
    close: async () => {
      await Promise.all([curves.close(), strips.close()]);
    },
  };
}
