/**
 * One life of an edge node, played against a real broker and kept packet by packet: born, sending live records and backlog, asked
 * for a rebirth, closed, born again, sending until its numbers wrap, cut off.
 */
import type { Packet } from 'mqtt-packet';
import { sleep } from '../../support/child.js';
import { listenTo, startMosquitto, type Heard } from '../../support/heard-broker.js';
import { startRecordingWire } from '../../support/recording-wire.js';
import {
  alarmRecord,
  DAY,
  journalRecord,
  manifestRecord,
  rollupRecord,
  rollupRow,
  SENSORS,
  transientRecord,
} from '../sample-records.js';
import { decodePayload, type DecodedPayload } from './decode.js';
import { askRebirth, makeMemory, makeSink, topic, within } from './rig.js';

export interface Message {
  readonly topic: string;
  /** NBIRTH, DDATA, … */
  readonly what: string;
  /** '': the node */
  readonly device: string;
  readonly qos: number;
  readonly retain: boolean;
  readonly payload: DecodedPayload;
  readonly bytes: Buffer;
}

/** What one connection carried, in order. */
export interface Session {
  readonly connect: Extract<Packet, { cmd: 'connect' }>;
  readonly subscriptions: readonly { readonly topic: string; readonly qos: number }[];
  /** commands in the order of the packets, without pings */
  readonly order: readonly string[];
  readonly messages: readonly Message[];
}

export interface Scene {
  readonly sessions: readonly Session[];
  /** what the broker told everybody, the will among it */
  readonly heard: readonly Heard[];
  readonly startedAt: number;
  readonly endedAt: number;
}

export async function playScene(): Promise<Scene> {
  const broker = await startMosquitto();
  const wire = await startRecordingWire(broker.port);
  const everybody = await listenTo(broker.url, ['spBv1.0/#']);
  const memory = makeMemory();
  const startedAt = Date.now();
  const sink = makeSink(`mqtt://127.0.0.1:${wire.port}`, { rebirthMs: 0 }, memory);
  const send = async (records: Parameters<typeof sink.send>[0]): Promise<void> => {
    const sent = await sink.send(records, within(5_000));
    if (sent.outcome !== 'taken') throw new Error(sent.reason);
  };
  await sink.open(within(5_000));
  const minute = (i: number, revision = 0) =>
    SENSORS.map((sensor) => rollupRecord(rollupRow(sensor, DAY + i * 60_000, revision)));
  await send([...minute(10).reverse(), ...minute(11), transientRecord(DAY + 615_000, 1)]);
  await send([
    alarmRecord(),
    alarmRecord({ id: 'gateway.storage-full', motor: 'gateway' }),
    journalRecord(3),
  ]);
  await send(minute(2).map((record) => ({ ...record, isBacklog: true })));
  await send([...minute(10, 1), transientRecord(DAY + 615_000, 2, true)]); // revised: older than what went before
  await send([
    manifestRecord({
      ...{ sensor: 'booster-4/de', period: '1m', day: DAY, rows: 3, pulses: 2 ** 33 + 5, ms: 7 },
      highestRevision: 1,
    }),
  ]);
  await askRebirth(everybody.client);
  await sleep(200);
  await sink.close();
  await sink.open(within(5_000));
  for (let i = 20; i < 180; i++) await send(minute(i));
  wire.cut();
  await everybody.expect('the will', ({ topic: on, payload }) => {
    return on === topic('NDEATH') && decodePayload(payload).metrics[0]?.value === 1;
  });
  await sink.close();
  const sessions = splitSessions(wire.packets);
  await wire.close();
  await everybody.close();
  await broker.stop();
  return { sessions, heard: everybody.heard, startedAt, endedAt: Date.now() };
}

function splitSessions(packets: readonly Packet[]): Session[] {
  const starts = packets.flatMap(({ cmd }, i) => (cmd === 'connect' ? [i] : []));
  return starts.map((start, n) => {
    const own = packets.slice(start, starts[n + 1]);
    return {
      connect: own[0] as Session['connect'],
      subscriptions: own.flatMap((packet) =>
        packet.cmd === 'subscribe'
          ? packet.subscriptions.map(({ topic: on, qos }) => ({ topic: on, qos }))
          : [],
      ),
      order: own
        .filter(({ cmd }) => cmd !== 'pingreq')
        .map((packet) => (packet.cmd === 'publish' ? packet.topic.split('/')[2]! : packet.cmd)),
      messages: own.flatMap((packet) => (packet.cmd === 'publish' ? [toMessage(packet)] : [])),
    };
  });
}

function toMessage({ topic: on, qos, retain, payload }: Extract<Packet, { cmd: 'publish' }>): Message {
  const [, , what = '', , device = ''] = on.split('/');
  const bytes = payload as Buffer;
  return { topic: on, what, device, qos, retain, payload: decodePayload(bytes), bytes };
}
