/** Chapter 4 of Sparkplug 3.0: topics and messages. Source and marks: statements.test.ts. */
import { expect } from 'vitest';
import { decodePayload } from './decode.js';
import {
  all,
  of,
  births,
  data,
  metricsOf,
  will,
  bdSeqOf,
  find,
  readScene,
  everyAliasWasBorn,
  numbersFollow,
  type Statement,
} from './judgement.js';
import { GROUP, NODE, topic } from './rig.js';

export const TOPICS: readonly Statement[] = [
  [
    4,
    'topic-structure',
    'namespace/group/type/node[/device]',
    () => {
      for (const { topic: on } of all())
        expect(on).toMatch(new RegExp(`^spBv1\\.0/${GROUP}/[ND](BIRTH|DATA|DEATH)/${NODE}(/[^/]+)?$`));
    },
  ],
  [
    4,
    'topic-structure-namespace-valid-device-id',
    'no + / # in a device’s id',
    () => {
      for (const { device } of of('DBIRTH', 'DDATA')) expect(device).toMatch(/^[^+/#]+$/);
    },
  ],
  [
    4,
    'topic-structure-namespace-device-id-associated-message-types',
    'a device in D… topics',
    () => {
      for (const { device } of of('DBIRTH', 'DDATA', 'DDEATH')) expect(device).not.toBe('');
      expect(new Set(of('DBIRTH').map(({ device }) => device))).toEqual(new Set(['booster-4', 'intake-1']));
    },
  ],
  [
    4,
    'topic-structure-namespace-device-id-non-associated-message-types',
    'no device in N… topics',
    () => {
      for (const { device } of of('NBIRTH', 'NDATA', 'NDEATH')) expect(device).toBe('');
    },
  ],
  [
    4,
    'topics-nbirth-topic',
    'spBv1.0/group/NBIRTH/node',
    () => {
      expect(new Set(of('NBIRTH').map((m) => m.topic))).toEqual(new Set([topic('NBIRTH')]));
    },
  ],
  [
    4,
    'topics-nbirth-mqtt',
    'QoS 0, not retained',
    () => {
      for (const { qos, retain } of of('NBIRTH')) expect({ qos, retain }).toEqual({ qos: 0, retain: false });
    },
  ],
  [
    4,
    'topics-nbirth-seq-num',
    'seq 0 in each NBIRTH',
    () => {
      for (const { payload } of of('NBIRTH')) expect(payload.seq).toBe(0);
    },
  ],
  [
    4,
    'topics-nbirth-timestamp',
    'the time it was sent, UTC',
    () => {
      for (const { payload } of births()) {
        expect(payload.timestamp).toBeGreaterThanOrEqual(readScene().startedAt);
        expect(payload.timestamp).toBeLessThanOrEqual(readScene().endedAt);
      }
    },
  ],
  [4, 'topics-nbirth-metric-reqs', 'every metric that will ever be reported', () => everyAliasWasBorn()],
  [
    4,
    'topics-nbirth-metrics',
    'name, datatype and current value of each',
    () => {
      for (const metric of metricsOf(births())) {
        expect(metric).toMatchObject({
          name: expect.any(String) as string,
          datatype: expect.any(Number) as number,
        });
        expect(metric.isNull).toBe(metric.value === null);
      }
    },
  ],
  [
    4,
    'topics-nbirth-bdseq-included',
    'a metric bdSeq',
    () => {
      for (const message of of('NBIRTH')) expect(find(message, 'bdSeq')).toBeDefined();
    },
  ],
  [
    4,
    'topics-nbirth-bdseq-matching',
    'equal to that of the will',
    () => {
      for (const session of readScene().sessions)
        for (const message of session.messages.filter(({ what }) => what === 'NBIRTH'))
          expect(find(message, 'bdSeq').value).toBe(bdSeqOf(will(session).payload as Buffer));
    },
  ],
  [
    4,
    'topics-nbirth-bdseq-increment',
    'from zero, one more with each CONNECT',
    () => {
      expect(
        readScene()
          .sessions.map((session) => bdSeqOf(will(session).payload as Buffer))
          .slice(0, 2),
      ).toEqual([0, 1]);
    },
  ],
  [
    4,
    'topics-nbirth-rebirth-metric',
    'Node Control/Rebirth, boolean, false',
    () => {
      for (const message of of('NBIRTH'))
        expect(find(message, 'Node Control/Rebirth')).toMatchObject({ datatype: 11, value: false });
    },
  ],
  [
    4,
    'topics-ndata-mqtt',
    'QoS 0, not retained',
    () => {
      expect(of('NDATA').length).toBeGreaterThan(0);
      for (const { qos, retain } of of('NDATA')) expect({ qos, retain }).toEqual({ qos: 0, retain: false });
    },
  ],
  [4, 'topics-ndata-seq-num', 'one more than the message before, 0 after 255', () => numbersFollow()],
  [
    4,
    'topics-ndata-timestamp',
    'the time it was sent',
    () => {
      for (const { payload } of data()) {
        expect(payload.timestamp).toBeGreaterThanOrEqual(readScene().startedAt);
        expect(payload.timestamp).toBeLessThanOrEqual(readScene().endedAt);
      }
    },
  ],
  [
    4,
    'topics-ndeath-topic',
    'spBv1.0/group/NDEATH/node',
    () => {
      for (const session of readScene().sessions) expect(will(session).topic).toBe(topic('NDEATH'));
    },
  ],
  [
    4,
    'topics-ndeath-payload',
    'one metric alone: bdSeq',
    () => {
      for (const session of readScene().sessions) {
        const { metrics } = decodePayload(will(session).payload as Buffer);
        expect(metrics.map(({ name }) => name)).toEqual(['bdSeq']);
      }
    },
  ],
  [
    4,
    'topics-ndeath-seq',
    'no sequence number',
    () => {
      for (const session of readScene().sessions)
        expect(decodePayload(will(session).payload as Buffer).seq).toBeNull();
    },
  ],
  [
    4,
    'topics-dbirth-mqtt',
    'QoS 0, not retained',
    () => {
      for (const { qos, retain } of of('DBIRTH')) expect({ qos, retain }).toEqual({ qos: 0, retain: false });
    },
  ],
  [4, 'topics-dbirth-seq', 'one more than the message before, 0 after 255', () => numbersFollow()],
  [4, 'topics-dbirth-metric-reqs', 'every metric that will ever be reported', () => everyAliasWasBorn()],
  [
    4,
    'topics-ddata-mqtt',
    'QoS 0, not retained',
    () => {
      expect(of('DDATA').length).toBeGreaterThan(255);
      for (const { qos, retain } of of('DDATA')) expect({ qos, retain }).toEqual({ qos: 0, retain: false });
    },
  ],
];
