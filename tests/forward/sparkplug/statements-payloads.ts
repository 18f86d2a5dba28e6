/** Chapter 6 of Sparkplug 3.0: payloads. Source and marks: statements.test.ts. */
import { expect } from 'vitest';
import { DAY } from '../sample-records.js';
import {
  of,
  births,
  data,
  metricsOf,
  CONTROL,
  readScene,
  withQuality,
  numbersFollow,
  historicalFlags,
  type Statement,
} from './judgement.js';

export const PAYLOADS: readonly Statement[] = [
  [
    6,
    'payloads-sequence-num-always-included',
    'in all but NDEATH',
    () => {
      for (const { payload } of [...births(), ...data()]) expect(payload.seq).not.toBeNull();
      for (const { payload } of of('NDEATH')) expect(payload.seq).toBeNull();
    },
  ],
  [6, 'payloads-sequence-num-incrementing', '0 to 255 and around', () => numbersFollow()],
  [
    6,
    'payloads-alias-uniqueness',
    'one number for one metric over node and devices',
    () => {
      const { messages } = readScene().sessions[1]!;
      const seen = new Map<number, string>();
      for (const { device, payload } of messages.filter(({ what }) => what.endsWith('BIRTH')))
        for (const { alias, name } of payload.metrics) {
          if (alias === null) continue;
          const before = seen.get(alias);
          if (before !== undefined) expect(`${device}/${name}`).toBe(before);
          seen.set(alias, `${device}/${name}`);
        }
      expect(new Set(seen.values()).size).toBe(seen.size);
    },
  ],
  [
    6,
    'payloads-alias-birth-requirement',
    'name and alias in births',
    () => {
      for (const { name, alias } of metricsOf(births()))
        if (!CONTROL.includes(name!)) expect(alias).toBeGreaterThan(0);
    },
  ],
  [
    6,
    'payloads-alias-data-cmd-requirement',
    'the alias alone in data',
    () => {
      for (const { name, alias } of metricsOf(data())) {
        expect(name).toBeNull();
        expect(alias).toBeGreaterThan(0);
      }
    },
  ],
  [
    6,
    'payloads-name-birth-data-requirement',
    'a timestamp with every metric',
    () => {
      for (const { timestamp } of metricsOf([...births(), ...data()])) expect(timestamp).toBeGreaterThan(0);
    },
  ],
  [
    6,
    'payloads-metric-datatype-req',
    'the datatype with every metric of a birth',
    () => {
      for (const { datatype } of metricsOf(births())) expect([3, 4, 10, 11, 12, 13]).toContain(datatype);
    },
  ],
  [
    6,
    'payloads-metric-datatype-not-req',
    'and not with data',
    () => {
      for (const { datatype } of metricsOf(data())) expect(datatype).toBeNull();
    },
  ],
  [
    6,
    'payloads-propertyset-quality-value-type',
    'Quality is of type 3 (Int32)',
    () => {
      for (const { properties } of withQuality()) expect(properties['Quality']!.type).toBe(3);
    },
  ],
  [
    6,
    'payloads-propertyset-quality-value-value',
    '0, 192 or 500',
    () => {
      const found = new Set(withQuality().map(({ properties }) => properties['Quality']!.value));
      expect([...found].sort()).toEqual([0, 192, 500]); // withdrawn, good, not known yet
    },
  ],
  [
    6,
    'is_historical of a metric',
    'field 5 is on the wire of what is backlog or older than what was sent',
    () => historicalFlags(),
  ],
  [
    6,
    'timestamp of a metric',
    'the time of the event',
    () => {
      const times = new Set(metricsOf(of('DDATA')).map(({ timestamp }) => timestamp!));
      expect(times).toContain(DAY + 600_000);
      expect(times).toContain(DAY);
      for (const time of times) expect(time).toBeLessThan(DAY + 86_400_000);
    },
  ],
];
