/** What the servers for PLC and HMI are fed from at their start, and the history that they hand on; a thread once they ask. */
import type { ApiReader } from '../../api/deps.js';
import { QueryLane } from './lane.js';

const WAITING_MOST = 32;

export type PlcReader = Pick<ApiReader, 'alarms' | 'drives' | 'rollups' | 'sensors'>;

/** `close` ends the thread; what waits then is rejected. */
export function openPlcReader(dataDir: string): PlcReader & { close(): Promise<void> } {
  const lane = new QueryLane(dataDir, WAITING_MOST);
  return {
    alarms: () => lane.ask('alarms'),
    drives: () => lane.ask('drives'),
    rollups: (query) => lane.ask('rollups', query),
    sensors: () => lane.ask('sensors'),
    close: () => lane.close(),
  };
}
