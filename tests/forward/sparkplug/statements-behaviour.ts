/** Chapter 5 of Sparkplug 3.0: behaviour of an edge node and its devices. Source and marks: statements.test.ts. */
import { expect } from 'vitest';
import { DAY } from '../sample-records.js';
import { decodePayload } from './decode.js';
import { bdSeqOf, births, CONTROL, data, find, of, readScene, will, type Statement } from './judgement.js';
import { topic } from './rig.js';

export const BEHAVIOUR: readonly Statement[] = [
  [
    5,
    'principles-persistence-clean-session-311',
    'CONNECT of MQTT 3.1.1 with a clean session',
    () => {
      for (const { connect } of readScene().sessions)
        expect(connect).toMatchObject({ protocolVersion: 4, clean: true });
    },
  ],
  [
    5,
    'message-flow-edge-node-ncmd-subscribe *',
    'NCMD subscribed with QoS 1 before the NBIRTH',
    () => {
      for (const { subscriptions, order } of readScene().sessions) {
        expect(subscriptions).toEqual([{ topic: topic('NCMD'), qos: 1 }]);
        if (order.includes('NBIRTH')) expect(order.slice(0, 3)).toEqual(['connect', 'subscribe', 'NBIRTH']);
      }
    },
  ],
  [
    5,
    'message-flow-edge-node-birth-publish-will-message',
    'a will in each CONNECT',
    () => {
      for (const { connect } of readScene().sessions) expect(connect.will).toBeDefined();
    },
  ],
  [
    5,
    'message-flow-edge-node-birth-publish-will-message-payload-bdSeq',
    'a metric bdSeq of type INT64',
    () => {
      for (const session of readScene().sessions)
        expect(decodePayload(will(session).payload as Buffer).metrics[0]).toMatchObject({
          name: 'bdSeq',
          datatype: 4,
        });
    },
  ],
  [
    5,
    'message-flow-edge-node-birth-publish-will-message-qos',
    'QoS 1',
    () => {
      for (const session of readScene().sessions) expect(will(session).qos).toBe(1);
    },
  ],
  [
    5,
    'message-flow-edge-node-birth-publish-will-message-will-retained',
    'not retained',
    () => {
      for (const session of readScene().sessions) expect(will(session).retain).toBe(false);
    },
  ],
  [
    5,
    'message-flow-edge-node-birth-publish-nbirth-payload-bdSeq',
    'bdSeq of type INT64 in the NBIRTH',
    () => {
      for (const message of of('NBIRTH')) expect(find(message, 'bdSeq').datatype).toBe(4);
    },
  ],
  [
    5,
    'operational-behavior-edge-node-intentional-disconnect-ndeath',
    'an NDEATH before it leaves',
    () => {
      const { order, messages, connect } = readScene().sessions[0]!;
      expect(order.at(-2)).toBe('NDEATH');
      expect(messages.at(-1)!.bytes).toEqual(connect.will!.payload);
    },
  ],
  [
    5,
    'operational-behavior-edge-node-intentional-disconnect-packet',
    'DISCONNECT right behind it',
    () => {
      expect(readScene().sessions[0]!.order.at(-1)).toBe('disconnect');
    },
  ],
  [
    5,
    'the will is told when it is cut off',
    'a death with the bdSeq of the birth, by the broker',
    () => {
      const deaths = readScene()
        .heard.filter((m) => m.topic === topic('NDEATH'))
        .map(({ payload }) => bdSeqOf(payload));
      expect(deaths.slice(0, 2)).toEqual([0, 1]);
      expect(readScene().sessions[1]!.order).not.toContain('disconnect');
    },
  ],
  [
    5,
    'message-flow-device-birth-publish-nbirth-wait',
    'NBIRTH before any DBIRTH of a session',
    () => {
      for (const { messages } of readScene().sessions)
        if (messages.length > 0) expect(messages[0]!.what).toBe('NBIRTH');
    },
  ],
  [
    5,
    'operational-behavior-data-publish-dbirth-values',
    'current value, or is_null and none',
    () => {
      const reborn = readScene()
        .sessions[0]!.messages.filter(({ what }) => what === 'DBIRTH')
        .slice(-2);
      const booster = reborn.find(({ device }) => device === 'booster-4')!;
      expect(find(booster, 'de/1m/revision')).toMatchObject({ timestamp: DAY + 660_000, value: 0 });
      const fresh = readScene().sessions[1]!.messages.find(({ device }) => device === 'booster-4')!;
      expect(find(fresh, 'de/1m/revision')).toMatchObject({ timestamp: DAY + 660_000, value: 0 });
      expect(find(fresh, 'de/1m/revision').properties['Quality']!.value).toBe(500);
    },
  ],
  [
    5,
    'operational-behavior-data-publish-nbirth-order, -dbirth-order',
    'live values of a message in order of time',
    () => {
      for (const { payload } of [...births(), ...data()]) {
        const times = payload.metrics.filter((m) => !m.isHistorical && !CONTROL.includes(m.name ?? ''));
        expect(times.map((m) => m.timestamp!)).toEqual(times.map((m) => m.timestamp!).sort((a, b) => a - b));
      }
    },
  ],
  [
    5,
    'operational-behavior-data-commands-rebirth-name-aliases',
    'no alias for Node Control/Rebirth',
    () => {
      for (const message of of('NBIRTH')) expect(find(message, 'Node Control/Rebirth').alias).toBeNull();
    },
  ],
  [
    5,
    'operational-behavior-data-commands-rebirth-action-2',
    'NBIRTH and all DBIRTHs, without data between',
    () => {
      const { messages } = readScene().sessions[0]!;
      const again = messages.findLastIndex(({ what }) => what === 'NBIRTH');
      const [first, ...rest] = messages.slice(again).map(({ what, device }) => `${what} ${device}`.trim());
      expect(first).toBe('NBIRTH');
      expect(rest.slice(0, 2).sort()).toEqual(['DBIRTH booster-4', 'DBIRTH intake-1']);
      expect(rest.slice(2)).toEqual(['NDEATH']);
    },
  ],
  [
    5,
    'operational-behavior-data-commands-rebirth-action-3',
    'the same bdSeq as before',
    () => {
      const numbers = readScene()
        .sessions[0]!.messages.filter(({ what }) => what === 'NBIRTH')
        .map((m) => find(m, 'bdSeq').value);
      expect(numbers.length).toBeGreaterThan(1);
      expect(new Set(numbers)).toEqual(new Set([0]));
    },
  ],
];
