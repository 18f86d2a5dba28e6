/** Bodies of wiring, commissioning, the gateway itself and the ledger, as the server documents them. */
import type { z } from 'zod';
import type { ledgerBody } from '../../api/bodies.js';
import type { RunBody, runsBody } from '../../api/commissioning-bodies.js';
import type { GatewayBody } from '../../api/gateway-bodies.js';
import type { StrangersBody, WiringBody } from '../../api/wiring-bodies.js';

export type { GatewayBody, RunBody, StrangersBody, WiringBody };
export type SensorChain = WiringBody['sensors'][number];
export type ChainLink = SensorChain['chain'][number];
export type LinkName = ChainLink['link'];
export type Stranger = StrangersBody['strangers'][number];
export type RunsBody = z.output<typeof runsBody>;
export type RunStep = RunBody['steps'][number];
export type HeardRow = RunStep['verdict']['sensors'][number];
export type LedgerBody = z.output<typeof ledgerBody>;
