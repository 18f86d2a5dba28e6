import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { decodeBytes, decodeJson, routeTopic } from '../../src/engine/decode.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const plan = makePlan(
  [motorPlan('pump-1')],
  [sensorPlan('pump-1', 'de', { counterBits: 16 }), sensorPlan('pump-1', 'nde')],
);
const SITE = plan.site;
const decode = (topic: string, text: string | Buffer, isRetained = false) =>
  decodeBytes(routeTopic(topic, plan), Buffer.from(text), isRetained, 5_000);

describe('a message becomes a fact', () => {
  it('reading', () => {
    const text =
      '{"device":"SN","count":65535,"at":1000,"seq":4,"boot":2,"up_ms":77,"temperature_c":41.5,"check":true,"colour":"red"}';
    expect(decode(`${SITE}/in/pump-1/de/reading`, text)).toEqual({
      ok: true,
      fact: {
        ...{ kind: 'reading', sensor: 'pump-1/de', device: 'SN', count: 65_535, at: 1_000, seq: 4, boot: 2 },
        ...{ upMs: 77, temperatureC: 41.5, check: true, receivedAt: 5_000 },
      },
    });
  });

  it('drive state, which modulates where it runs', () => {
    expect(decode(`${SITE}/in/pump-1/drive/state`, '{"state":"running","speed_rpm":1480}')).toMatchObject({
      ok: true,
      fact: {
        kind: 'drive',
        motor: 'pump-1',
        state: 'running',
        modulating: true,
        speedRpm: 1480,
        at: null,
        since: null,
      },
    });
  });

  it('presences', () => {
    expect(decode(`${SITE}/in/pump-1/drive/presence`, '{"online":false}')).toMatchObject({
      fact: { kind: 'drive-presence', motor: 'pump-1', online: false, receivedAt: 5_000 },
    });
    expect(decode(`${SITE}/in/pump-1/nde/presence`, '{"online":true,"device":"SN"}')).toMatchObject({
      fact: { kind: 'sensor-presence', sensor: 'pump-1/nde', online: true, device: 'SN' },
    });
  });

  it('an empty retained message clears and says nothing', () => {
    expect(decode(`${SITE}/in/pump-1/drive/state`, '', true)).toEqual({ ok: true, fact: null });
    expect(decode(`${SITE}/in/pump-1/drive/state`, '', false)).toMatchObject({ ok: false });
  });
});

describe('what is refused says why', () => {
  it.each([
    ['in/pump-1/de/reading', '{', /payload: expected JSON/],
    ['in/pump-1/de/reading', '[]', /message: expected a JSON object, found a list of 0/],
    ['in/pump-1/de/reading', '{"count":-1}', /count: expected an integer/],
    [
      'in/pump-1/de/reading',
      '{"count":65536}',
      /count: expected below 65536 \(a counter of 16 bits\), found 65536/,
    ],
    ['in/pump-1/de/reading', '{"count":1,"at":"2026-02-30T00:00:00Z"}', /at: expected a time/],
    ['in/pump-9/de/reading', '{"count":1}', /unknown sensor pump-9\/de/],
    ['in/pump-1/top/reading', '{"count":1}', /unknown sensor pump-1\/top/],
    ['in/pump-9/drive/state', '{"state":"running"}', /unknown motor pump-9/],
    ['in/Pump-1/de/reading', '{"count":1}', /motor: expected a name of/],
    ['in/pump-1/de/readings', '{"count":1}', /last level: expected reading or presence/],
    ['out/journal', '{}', /only the gateway publishes below out/],
    ['in/pump-1/drive/state', '{"state":"flying"}', /state: expected one of/],
  ])('%s %s', (topic, text, reason) => {
    const found = decode(`${SITE}/${topic}`, text);
    expect(found.ok).toBe(false);
    expect(found.ok ? '' : found.reason).toMatch(reason);
  });

  it('bytes that are no UTF-8', () => {
    const bytes = Buffer.from('{"count":1,"device":"A?"}');
    bytes[bytes.indexOf('?')] = 0xff;
    expect(decode(`${SITE}/in/pump-1/de/reading`, bytes)).toEqual({
      ok: false,
      reason: 'payload: expected UTF-8',
    });
  });
});

it('no bytes on any topic throw, and every refusal has a reason', () => {
  const topic = fc.oneof(
    fc
      .constantFrom(
        'in/pump-1/de/reading',
        'in/pump-1/drive/state',
        'in/pump-1/drive/presence',
        'in/pump-1/nde/presence',
      )
      .map((t) => `${SITE}/${t}`),
    fc.string(),
  );
  const payload = fc.oneof(
    fc.uint8Array(),
    fc.json().map((text) => Buffer.from(text)),
    fc.constant(Buffer.from('['.repeat(50_000))),
  );
  fc.assert(
    fc.property(topic, payload, fc.boolean(), (t, bytes, isRetained) => {
      const found = decode(t, Buffer.from(bytes), isRetained);
      return found.ok || found.reason.length > 0;
    }),
    { numRuns: 3_000, seed: 20_260_302 },
  );
});

it('parsed JSON and bytes decode alike', () => {
  const route = routeTopic(`${SITE}/in/pump-1/de/reading`, plan);
  fc.assert(
    fc.property(fc.json(), (text) => {
      expect(decodeJson(route, JSON.parse(text), 1)).toEqual(decodeBytes(route, Buffer.from(text), false, 1));
    }),
    { numRuns: 500, seed: 1 },
  );
});
