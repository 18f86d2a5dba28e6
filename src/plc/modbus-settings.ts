/** What the process of the Modbus server is started with. */
import type { Plant } from './plant.js';
import type { WordOrder } from './word-order.js';

export interface ModbusSettings {
  readonly host: string;
  readonly port: number;
  readonly unitId: number;
  readonly wordOrder: WordOrder;
  readonly positions: readonly string[];
  /** motor and slot */
  readonly slots: readonly (readonly [string, number])[];
  readonly clientsMax: number;
  readonly idleMs: number;
  readonly plant: Plant;
}
