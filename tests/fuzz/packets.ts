/** Bytes that are no MQTT, or hardly: what a port scanner, a broken client and a hostile one send. */
import { generate } from 'mqtt-packet';
import { makeDamaged, randomBytes, readingWith } from './payloads.js';

type Random = () => number;

export const SITE = 'fuzz';
export const FUZZED_MOTOR = 'target';

export function connectBytes(clientId: string): Buffer {
  return generate({
    cmd: 'connect',
    protocolId: 'MQTT',
    protocolVersion: 4,
    clean: true,
    clientId,
    keepalive: 30,
  });
}

/** A PUBLISH with any bytes as topic, which the library would refuse to make. */
export function publishBytes(
  topic: Buffer,
  payload: Buffer,
  qos: 0 | 1 | 2,
  messageId: number,
  retain = false,
): Buffer {
  const id = qos === 0 ? Buffer.alloc(0) : Buffer.from([messageId >> 8, messageId & 255]);
  const rest = Buffer.concat([Buffer.from([topic.length >> 8, topic.length & 255]), topic, id, payload]);
  return Buffer.concat([Buffer.from([0x30 | (qos << 1) | (retain ? 1 : 0)]), lengthBytes(rest.length), rest]);
}

/** MQTT 3.1.1, 2.2.3: seven bits a byte, the lowest first. */
export function lengthBytes(length: number): Buffer {
  const bytes: number[] = [];
  let left = length;
  do {
    const byte = left % 128;
    left = Math.floor(left / 128);
    bytes.push(left > 0 ? byte | 128 : byte);
  } while (left > 0);
  return Buffer.from(bytes);
}

function pick<T>(random: Random, values: readonly T[]): T {
  return values[Math.floor(random() * values.length)]!;
}

const TOPICS = [
  '',
  '/',
  '//',
  '#',
  '+',
  '$SYS/broker',
  `${SITE}`,
  `${SITE}/in`,
  `${SITE}/in/${FUZZED_MOTOR}`,
  `${SITE}/in/${FUZZED_MOTOR}/de`,
  `${SITE}/in/${FUZZED_MOTOR}/de/reading/more`,
  `${SITE}/in/${FUZZED_MOTOR}/de/unheard`,
  `${SITE}/in/${FUZZED_MOTOR}/up/reading`,
  `${SITE}/in/nobody/de/reading`,
  `${SITE}/in/Target/DE/reading`,
  `${SITE}/in/__proto__/constructor/reading`,
  `${SITE}/in/${FUZZED_MOTOR}/+/reading`,
  `${SITE}/in/#`,
  `${SITE}/out/gateway/presence`,
  `${SITE}/out/journal`,
  `${SITE}/out/${FUZZED_MOTOR}/alarm/de-rate-high`,
  `elsewhere/in/${FUZZED_MOTOR}/de/reading`,
] as const;

export function strangeTopic(random: Random): Buffer {
  const kind = random();
  if (kind < 0.7) return Buffer.from(pick(random, TOPICS));
  if (kind < 0.8) return Buffer.from('t/'.repeat(Math.floor(random() * 15_000)));
  if (kind < 0.9) return Buffer.concat([Buffer.from(`${SITE}/in/`), randomBytes(random, 40)]);
  return Buffer.from(`${SITE}/in/${FUZZED_MOTOR}\u0000/de/reading`);
}

/** A well-formed stream with some of its bytes changed, left out or doubled. */
export function mutate(random: Random, bytes: Buffer): Buffer {
  const changed = [...bytes];
  const times = 1 + Math.floor(random() * 4);
  for (let i = 0; i < times && changed.length > 0; i++) {
    const at = Math.floor(random() * changed.length);
    const kind = random();
    if (kind < 0.5) changed[at] = (changed[at]! ^ (1 << Math.floor(random() * 8))) & 255;
    else if (kind < 0.7) changed[at] = Math.floor(random() * 256);
    else if (kind < 0.85) changed.splice(at, 1 + Math.floor(random() * 8));
    else changed.splice(at, 0, ...randomBytes(random, 8));
  }
  return Buffer.from(changed);
}

export function goodPublish(random: Random, messageId: number): Buffer {
  return publishBytes(
    Buffer.from(`${SITE}/in/${FUZZED_MOTOR}/de/reading`),
    readingWith(random, {}),
    1,
    messageId,
  );
}

/** A CONNECT that is wrong in one way. */
export function badConnect(random: Random): Buffer {
  const good = connectBytes(`bad-${Math.floor(random() * 1e6)}`);
  const promise = Buffer.concat([
    Buffer.from([0x10]),
    Buffer.from([0xff, 0xff, 0xff, 0x7f]),
    randomBytes(random, 3000),
  ]);
  const protocol = Buffer.from(good);
  protocol[8] = Math.floor(random() * 256);
  const flags = Buffer.from(good);
  flags[9] = Math.floor(random() * 256);
  const longId = generate({
    cmd: 'connect',
    protocolId: 'MQTT',
    protocolVersion: 4,
    clean: true,
    clientId: 'x'.repeat(20_000),
    keepalive: 1,
  });
  const session = generate({
    cmd: 'connect',
    protocolId: 'MQTT',
    protocolVersion: 4,
    clean: false,
    clientId: `keep-${Math.floor(random() * 1e6)}`,
    keepalive: 1,
  });
  const endless = Buffer.from([0x10, 0xff, 0xff, 0xff, 0xff, 0xff, 0x01]);
  return pick(random, [
    promise,
    protocol,
    flags,
    longId,
    session,
    endless,
    Buffer.concat([good, good]),
    good.subarray(0, good.length - 3),
  ]);
}

/** Packets that are formed well and make no sense at this place. */
export function outOfPlace(random: Random, messageId: number): Buffer {
  const filter = pick(random, [
    '#',
    '+/+/+',
    '',
    'a/#/b',
    '$SYS/#',
    'x'.repeat(5000),
    `${SITE}/out/#`,
    `${SITE}/in/#`,
    '/'.repeat(3000),
  ]);
  const subscribe = Buffer.concat([
    Buffer.from([messageId >> 8, messageId & 255, filter.length >> 8, filter.length & 255]),
    Buffer.from(filter),
    Buffer.from([Math.floor(random() * 5)]),
  ]);
  return pick(random, [
    Buffer.concat([Buffer.from([0x82]), lengthBytes(subscribe.length), subscribe]),
    Buffer.from([0x40, 2, messageId >> 8, messageId & 255]),
    Buffer.from([0x50, 2, messageId >> 8, messageId & 255]),
    Buffer.from([0x62, 2, messageId >> 8, messageId & 255]),
    Buffer.from([0x70, 2, messageId >> 8, messageId & 255]),
    Buffer.from([0xc0, 0]),
    Buffer.from([0xd0, 0]),
    Buffer.from([0x20, 2, 0, 0]),
    Buffer.from([0xf0, 0]),
    Buffer.from([0x00, 0]),
    publishBytes(
      Buffer.from(`${SITE}/in/${FUZZED_MOTOR}/de/reading`),
      makeDamaged(random, 'wrong-type'),
      2,
      messageId,
    ),
    publishBytes(
      Buffer.from(`${SITE}/in/${FUZZED_MOTOR}/de/reading`),
      Buffer.alloc(300_000, 0x20),
      1,
      messageId,
    ),
    publishBytes(Buffer.from(`${SITE}/in/${FUZZED_MOTOR}/de/reading`), readingWith(random, {}), 1, 0),
  ]);
}
