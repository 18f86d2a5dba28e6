/** The receivers of all network sinks at once, as far as their programs are installed. */
import { findPostgres } from '../support/postgres-cluster.js';
import { hasMosquitto } from '../support/mosquitto-broker.js';
import { startMqttReceiver, startSparkplugReceiver } from './broker-receivers.js';
import { startHttpReceiver } from './http-receiver.js';
import {
  NETWORK_KINDS,
  type NetworkKind,
  type NetworkReceiver,
  type ReceiverWishes,
} from './network-receiver.js';
import { startPostgresReceiver } from './postgres-receiver.js';

const postgres = findPostgres();

/** Null: everything is there; else one line about what is left out. */
export const MISSING_RECEIVERS =
  [...(hasMosquitto ? [] : ['mosquitto']), ...(postgres === null ? ['postgresql'] : [])]
    .map(
      (name) =>
        `left out: sinks at a real receiver, because ${name} is not installed (apt-get install ${name})`,
    )
    .join('; ') || null;

const START: Readonly<Record<NetworkKind, (wishes: ReceiverWishes) => Promise<NetworkReceiver>>> = {
  mqtt: (wishes) => startMqttReceiver(wishes),
  sparkplug: (wishes) => startSparkplugReceiver(wishes),
  http: startHttpReceiver,
  postgres: (wishes) => startPostgresReceiver(postgres!, wishes),
};

/** What can be had on this machine. */
export const KINDS_HERE: readonly NetworkKind[] = NETWORK_KINDS.filter(
  (kind) => kind === 'http' || (kind === 'postgres' ? postgres !== null : hasMosquitto),
);

export async function startReceivers(
  wishes: ReceiverWishes,
  kinds: readonly NetworkKind[] = KINDS_HERE,
): Promise<NetworkReceiver[]> {
  return Promise.all(kinds.map((kind) => START[kind](wishes)));
}
