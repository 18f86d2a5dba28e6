/** What the process of the OPC UA server is started with. Passwords go over the channel to it, never into its environment. */
import type { Plant } from './plant.js';

export type SecurityMode = 'sign-encrypt' | 'sign' | 'none';

export interface OpcuaSettings {
  readonly host: string;
  readonly port: number;
  readonly security: readonly SecurityMode[];
  /** who has no login may read */
  readonly anonymous: boolean;
  readonly users: readonly {
    readonly name: string;
    readonly password: string;
    readonly role: 'viewer' | 'operator';
  }[];
  readonly sessionsMax: number;
  readonly idleMs: number;
  /** upper end of EURange */
  readonly rangePerMin: number;
  /** longest shelf, ms */
  readonly shelfMaxMs: number;
  /** certificates are below it */
  readonly dataDir: string;
  readonly version: string;
  readonly plant: Plant;
}
