/** One connection of the fuzz run: opens, sends its share of rubbish, waits for what comes back, goes away. */
import { connect } from 'node:net';
import { parser } from 'mqtt-packet';
import {
  badConnect,
  connectBytes,
  FUZZED_MOTOR,
  goodPublish,
  mutate,
  outOfPlace,
  publishBytes,
  SITE,
  strangeTopic,
} from './packets.js';
import { DAMAGED_KINDS, makeDamaged, randomBytes, readingWith, type DamagedKind } from './payloads.js';

type Random = () => number;

export type AttackKind =
  'noise' | 'bad-connect' | 'mutated' | 'topic' | 'out-of-place' | `payload-${DamagedKind}`;

export const ATTACK_KINDS: readonly AttackKind[] = [
  'noise',
  'bad-connect',
  'mutated',
  'topic',
  'out-of-place',
  ...DAMAGED_KINDS.map((kind) => `payload-${kind}` as const),
];

export interface AttackOutcome {
  readonly kind: AttackKind;
  readonly sent: number;
  readonly acknowledged: number;
  readonly cutByGateway: boolean;
}

const SILENCE_MS = 25;
const ACK_PATIENCE_MS = 5_000;

interface Script {
  readonly bytes: Buffer[];
  /** acknowledgements that must come: damaged payloads on a good topic are acknowledged and quarantined */
  readonly acks: number;
}

function isPayloadKind(kind: AttackKind): kind is `payload-${DamagedKind}` {
  return kind.startsWith('payload-');
}

function writeScript(random: Random, kind: AttackKind, count: number): Script {
  const hello = connectBytes(`fuzz-${kind}-${Math.floor(random() * 1e9)}`);
  const each = (make: (id: number) => Buffer): Buffer[] =>
    Array.from({ length: count }, (_, i) => make(i + 1));
  if (isPayloadKind(kind)) {
    const damaged = kind.slice('payload-'.length) as DamagedKind;
    const topic = Buffer.from(`${SITE}/in/${damaged === 'bad-name' ? 'Nobody' : FUZZED_MOTOR}/de/reading`);
    const bytes = each((id) => publishBytes(topic, makeDamaged(random, damaged), 1, id));
    return { bytes: [hello, ...bytes], acks: damaged === 'bad-name' ? 0 : count };
  }
  switch (kind) {
    case 'noise':
      return { bytes: each(() => randomBytes(random, 400)), acks: 0 };
    case 'bad-connect':
      return { bytes: each(() => badConnect(random)), acks: 0 };
    case 'mutated':
      return { bytes: [hello, ...each((id) => mutate(random, goodPublish(random, id)))], acks: 0 };
    case 'topic':
      return {
        bytes: [
          hello,
          ...each((id) => publishBytes(strangeTopic(random), readingWith(random, {}), 1, id, random() < 0.2)),
        ],
        acks: 0,
      };
    case 'out-of-place':
      return { bytes: [hello, ...each((id) => outOfPlace(random, id))], acks: 0 };
  }
}

/** Rejects when acknowledgements that are owed do not come. */
export function attack(
  port: number,
  random: Random,
  kind: AttackKind,
  count: number,
): Promise<AttackOutcome> {
  const script = writeScript(random, kind, count);
  return new Promise((resolve, reject) => {
    const socket = connect({ port, host: '127.0.0.1', noDelay: true });
    const decoder = parser();
    let acknowledged = 0;
    let timer: NodeJS.Timeout | null = null;
    let isOver = false;
    const end = (cutByGateway: boolean): void => {
      if (isOver) return;
      isOver = true;
      if (timer !== null) clearTimeout(timer);
      socket.destroy();
      if (acknowledged < script.acks) {
        reject(
          new Error(
            `${kind}: ${acknowledged} of ${script.acks} messages acknowledged${cutByGateway ? ', then cut' : ''}`,
          ),
        );
      } else resolve({ kind, sent: count, acknowledged, cutByGateway });
    };
    const wait = (): void => {
      if (timer !== null) clearTimeout(timer);
      timer = setTimeout(() => end(false), script.acks > acknowledged ? ACK_PATIENCE_MS : SILENCE_MS);
    };
    decoder.on('packet', (packet) => {
      if (packet.cmd === 'puback') acknowledged += 1;
      if (script.acks > 0 && acknowledged === script.acks) end(false);
    });
    decoder.on('error', () => undefined);
    socket.on('connect', () => {
      for (const bytes of script.bytes) if (!socket.destroyed) socket.write(bytes);
      wait();
    });
    socket.on('data', (chunk) => {
      decoder.parse(chunk);
      if (!isOver) wait();
    });
    socket.on('error', () => end(true));
    socket.on('close', () => end(true));
  });
}
