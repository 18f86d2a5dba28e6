/** What pictures are drawn from, on a thread of its own: somebody who zooms holds up neither the alarm list nor a comparison. */
import type { ChartsReader } from '../../api/charts-reader.js';
import { QueryLane } from './lane.js';

const WAITING_MOST = 48;

/** `close` ends the thread; what waits then is rejected. */
export function openChartsReader(dataDir: string): ChartsReader & { close(): Promise<void> } {
  const lane = new QueryLane(dataDir, WAITING_MOST);
  return {
    series: (query) => lane.ask('series', query),
    timeline: (query) => lane.ask('timeline', query),
    group: (query) => lane.ask('group', query),
    close: () => lane.close(),
  };
}
