/** The Modbus server over the small plant. */
import type { ModbusSettings } from '../../src/plc/modbus-settings.js';
import { serve, type Served } from './served-process.js';
import { SLOTS, smallPlant } from './small-plant.js';

export function serveRegisters(change: Partial<ModbusSettings> = {}): Promise<Served> {
  const settings: ModbusSettings = {
    ...{ host: '127.0.0.1', port: 0, unitId: 1, wordOrder: 'ABCD', positions: ['de', 'nde'] },
    ...{ slots: [...SLOTS], clientsMax: 100, idleMs: 60_000, plant: smallPlant(), ...change },
  };
  return serve('src/plc/modbus-process.js', settings);
}
