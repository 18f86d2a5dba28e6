/**
 * The primary host of an edge node, as a receiver: it says that it is there, learns names from births, and makes a row of each
 * record that the data hold. It decodes with another implementation's decoder.
 * Source: Sparkplug 3.0, chapters 4 (STATE) and 6 (host).
 */
import { connect } from 'mqtt';
import { DataType, encodePayload } from '../../src/forward/sparkplug/payload.js';
import { decodePayload, type DecodedMetric } from '../forward/sparkplug/decode.js';
import { nameRecord } from '../forward/sparkplug/record-name.js';
import type { ReceivedRow } from './receiver-table.js';

/** What is known of nodes: names by alias from the births. */
export class HostView {
  /** `<group>/<node>` -> alias -> `<device>:<metric>` */
  readonly #names = new Map<string, Map<number, string>>();

  /** Rows of a message; null: data of a node whose birth was not heard. */
  hear(topic: string, bytes: Buffer): ReceivedRow[] | null {
    const [, group = '', what = '', node = '', device = ''] = topic.split('/');
    if (!/^[ND](BIRTH|DATA)$/.test(what)) return [];
    const own = `${group}/${node}`;
    const { metrics } = decodePayload(bytes);
    if (what === 'NBIRTH') this.#names.set(own, new Map());
    const names = this.#names.get(own);
    if (names === undefined) return null;
    if (what.endsWith('BIRTH')) {
      for (const { alias, name } of metrics) if (alias !== null) names.set(alias, `${device}:${name}`);
      return [];
    }
    if (metrics.some(({ alias }) => !names.has(alias ?? -1))) return null;
    return readRows(device, metrics, names);
  }
}

/** A group begins with its first metric and ends with its revision. */
function readRows(
  device: string,
  metrics: readonly DecodedMetric[],
  names: ReadonlyMap<number, string>,
): ReceivedRow[] {
  const rows: ReceivedRow[] = [];
  let group: Record<string, unknown> = {};
  for (const { alias, timestamp, value } of metrics) {
    const name = names.get(alias!)!.slice(device.length + 1);
    group[name] = value;
    if (!name.endsWith('/revision')) continue;
    const named = nameRecord(
      device,
      name.slice(0, -'/revision'.length),
      timestamp!,
      Number(group['journal/number']),
    );
    rows.push({ ...named, revision: Number(value), body: JSON.stringify(group) });
    group = {};
  }
  return rows;
}

/** Asks a node for its births; as bytes of a command. */
function makeRebirth(now: number): Buffer {
  const metric = {
    ...{ name: 'Node Control/Rebirth', alias: null, timestamp: now, type: DataType.boolean, tellsType: true },
    ...{ isHistorical: false, value: true, quality: null, isUncertain: null },
  } as const;
  return encodePayload({ timestamp: now, seq: 0, metrics: [metric] });
}

/** Listens for ever; `take` is called once for all that was read at once. */
export function runHost(port: number, host: string, take: (rows: readonly ReceivedRow[]) => void): void {
  const state = (online: boolean, timestamp: number): string => JSON.stringify({ online, timestamp });
  const topic = `spBv1.0/STATE/${host}`;
  const bornAt = Date.now();
  const client = connect(`mqtt://127.0.0.1:${port}`, {
    ...{ clientId: `host-${host}`, clean: true, reconnectPeriod: 50, keepalive: 5 },
    will: { topic, payload: Buffer.from(state(false, bornAt)), qos: 1, retain: true },
  });
  client.on('error', () => undefined);
  let view = new HostView();
  let heard: ReceivedRow[] = [];
  client.on('connect', () => {
    view = new HostView();
    client.subscribe('spBv1.0/#', { qos: 1 }, () => {
      client.publish(topic, state(true, bornAt), { qos: 1, retain: true }, () => console.log('ready'));
    });
  });
  client.on('message', (on, bytes) => {
    const rows = view.hear(on, bytes);
    if (rows === null) {
      const [root, group, , node] = on.split('/');
      client.publish(`${root}/${group}/NCMD/${node}`, makeRebirth(Date.now()), { qos: 0 });
      return;
    }
    if (rows.length === 0) return;
    if (heard.length === 0)
      setImmediate(() => {
        take(heard);
        heard = [];
      });
    heard.push(...rows);
  });
}
