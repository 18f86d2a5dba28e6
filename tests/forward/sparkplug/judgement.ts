/**
 * What is judged of the scene: messages and metrics as they went over the wire, and the judgements that several statements share.
 */
import { expect } from 'vitest';
import { cutMetrics, decodePayload, type DecodedMetric } from './decode.js';
import { DAY } from '../sample-records.js';
import type { Message, Scene, Session } from './scene.js';

/** [chapter, id, what it asks for in our words, how it is judged] */
export type Statement = readonly [chapter: number, id: string, says: string, judge: () => void];

let played: Scene | null = null;

export function judgeScene(scene: Scene): void {
  played = scene;
}

export function readScene(): Scene {
  if (played === null) throw new Error('the scene was not played');
  return played;
}

export const of = (...whats: string[]): Message[] => all().filter(({ what }) => whats.includes(what));
export const all = (): Message[] => readScene().sessions.flatMap(({ messages }) => messages);
export const births = (): Message[] => of('NBIRTH', 'DBIRTH');
export const data = (): Message[] => of('NDATA', 'DDATA');
export const metricsOf = (messages: readonly Message[]): DecodedMetric[] =>
  messages.flatMap((m) => m.payload.metrics);
export const will = ({ connect }: Session) => connect.will!;
export const bdSeqOf = (bytes: Buffer): number => decodePayload(bytes).metrics[0]!.value as number;
export const find = (message: Message, name: string): DecodedMetric =>
  message.payload.metrics.find((metric) => metric.name === name)!;
export const CONTROL = ['bdSeq', 'Node Control/Rebirth'];

export function withQuality(): DecodedMetric[] {
  const found = metricsOf([...births(), ...data()]).filter(({ name }) => !CONTROL.includes(name ?? ''));
  expect(found.every(({ properties }) => properties['Quality'] !== undefined)).toBe(true);
  return found;
}

export function everyAliasWasBorn(): void {
  for (const { messages } of readScene().sessions) {
    const born = new Map<number, string>();
    for (const { what, device, payload } of messages)
      for (const { alias } of payload.metrics) {
        if (alias === null) continue;
        if (what.endsWith('BIRTH')) born.set(alias, device);
        else expect(born.get(alias)).toBe(device);
      }
  }
  const names = (n: number): string[] =>
    [
      ...new Set(
        readScene()
          .sessions[n]!.messages.filter(({ what }) => what.endsWith('BIRTH'))
          .flatMap(({ device, payload }) => payload.metrics.map(({ name }) => `${device}/${name}`)),
      ),
    ].sort();
  // the second session has sent rollups only, and its births tell all that the first one sent
  expect(names(1)).toEqual(names(0));
  expect(names(1)).toContain('booster-4/alarm/de-rate-high/state');
  expect(names(1)).toContain('/gateway/alarm/de-rate-high/state');
}

export function numbersFollow(): void {
  for (const { messages } of readScene().sessions) {
    let before: number | null = null;
    for (const { what, payload } of messages) {
      if (what === 'NDEATH') continue;
      expect(payload.seq).toBe(what === 'NBIRTH' ? 0 : (before! + 1) % 256);
      before = payload.seq;
    }
  }
  expect(readScene().sessions[1]!.messages.length).toBeGreaterThan(300);
}

export function historicalFlags(): void {
  let flagged = 0;
  for (const { bytes, payload } of data()) {
    const cut = cutMetrics(bytes);
    payload.metrics.forEach((metric, i) => {
      // alias (2), timestamp (3), then field 5 as a varint: 0x28 0x01
      const head = Buffer.concat([cut[i]!.subarray(0, 16), Buffer.alloc(16)]);
      const afterTime = skipVarint(head, skipVarint(head, 0));
      const has = head[afterTime] === 0x28 && head[afterTime + 1] === 0x01;
      expect(has).toBe(metric.isHistorical);
      if (has) flagged += 1;
    });
  }
  const late = metricsOf(of('DDATA')).filter(({ timestamp }) => timestamp === DAY + 120_000);
  expect(late.length).toBeGreaterThan(0);
  expect(late.every(({ isHistorical }) => isHistorical)).toBe(true);
  const revised = metricsOf(of('DDATA')).filter((m) => m.timestamp === DAY + 600_000 && m.isHistorical);
  expect(revised.length).toBe(late.length); // minute 10 again, with revision 1, behind minute 11
  expect(flagged).toBe(late.length + revised.length);
}

/** Over one field of a varint; answers where the next begins. */
function skipVarint(bytes: Buffer, at: number): number {
  let next = at + 1;
  while (bytes[next]! > 127) next += 1;
  return next + 1;
}
