/**
 * From a topic and bytes to a fact, or to the reason why there is none. Never throws, whatever the bytes.
 * What a topic means is worked out once per topic (`routeTopic`), so that a message costs its JSON and little else.
 */
import { isUtf8 } from 'node:buffer';
import { readDrivePresence, readDriveState, readReading, readSensorPresence } from '../../shared/messages.js';
import { parseTopic } from '../../shared/topics.js';
import type { Fact } from '../core/facts.js';
import type { Plan, SensorPlan } from '../core/plan.js';

/** Where messages of a topic go. */
export type Route =
  | { readonly kind: 'reading'; readonly sensor: SensorPlan; readonly countEnd: number }
  | { readonly kind: 'sensor-presence'; readonly sensor: SensorPlan }
  | { readonly kind: 'drive-state'; readonly motor: string }
  | { readonly kind: 'drive-presence'; readonly motor: string }
  | { readonly kind: 'refused'; readonly reason: string };

/** A fact; `null`: nothing to take note of, and nothing wrong; or why the message is refused. */
export type Decoded =
  { readonly ok: true; readonly fact: Fact | null } | { readonly ok: false; readonly reason: string };

const NOTHING: Decoded = { ok: true, fact: null };

/** `denied`: the client may not publish there, which outranks whatever else is wrong. */
export function routeTopic(topic: string, plan: Plan): Route {
  const parsed = parseTopic(topic, plan.site);
  switch (parsed.kind) {
    case 'invalid':
      return { kind: 'refused', reason: `topic: ${parsed.reason}` };
    case 'out':
      return { kind: 'refused', reason: 'not authorised: only the gateway publishes below out/' };
    case 'drive-state':
    case 'drive-presence':
      if (!plan.motors.has(parsed.motor)) return refuseUnknown('motor', parsed.motor);
      return { kind: parsed.kind, motor: parsed.motor };
    case 'reading':
    case 'sensor-presence': {
      const key = `${parsed.motor}/${parsed.position}`;
      const sensor = plan.sensors.get(key);
      if (sensor === undefined) return refuseUnknown('sensor', key);
      if (parsed.kind === 'sensor-presence') return { kind: 'sensor-presence', sensor };
      const countEnd = sensor.counterBits === 53 ? Number.MAX_SAFE_INTEGER + 1 : 2 ** sensor.counterBits;
      return { kind: 'reading', sensor, countEnd };
    }
  }
}

function refuseUnknown(what: 'motor' | 'sensor', key: string): Route {
  return {
    kind: 'refused',
    reason: `unknown ${what} ${key}: add it to the configuration, or mend the topic`,
  };
}

/** An empty retained message takes the retained one away (MQTT 3.1.1, 3.3.1.3); it says nothing else. */
export function decodeBytes(route: Route, payload: Buffer, isRetained: boolean, receivedAt: number): Decoded {
  if (route.kind === 'refused') return { ok: false, reason: route.reason };
  if (payload.length === 0 && isRetained && route.kind !== 'reading') return NOTHING;
  let json: unknown;
  const text = payload.toString('utf8');
  if (text.includes('\ufffd') && !isUtf8(payload)) return { ok: false, reason: 'payload: expected UTF-8' };
  try {
    json = JSON.parse(text);
  } catch (error) {
    return { ok: false, reason: `payload: expected JSON (${tellError(error)})` };
  }
  return decodeJson(route, json, receivedAt);
}

/** The same from parsed JSON, as captures hold it. */
export function decodeJson(route: Route, json: unknown, receivedAt: number): Decoded {
  try {
    return decodeMessage(route, json, receivedAt);
  } catch (error) {
    return { ok: false, reason: `message: could not be read (${tellError(error)})` };
  }
}

function decodeMessage(route: Route, json: unknown, receivedAt: number): Decoded {
  switch (route.kind) {
    case 'refused':
      return { ok: false, reason: route.reason };
    case 'reading': {
      const read = readReading(json);
      if (!read.ok) return read;
      const { device, count, at, seq, boot, upMs, temperatureC, check } = read.value;
      if (count >= route.countEnd) {
        const reason = `count: expected below ${route.countEnd} (a counter of ${route.sensor.counterBits} bits), found ${count}`;
        return { ok: false, reason };
      }
      const sensor = route.sensor.key;
      return {
        ok: true,
        fact: {
          kind: 'reading',
          sensor,
          device,
          count,
          at,
          seq,
          boot,
          upMs,
          temperatureC,
          check,
          receivedAt,
        },
      };
    }
    case 'sensor-presence': {
      const read = readSensorPresence(json);
      if (!read.ok) return read;
      const { online, device } = read.value;
      return {
        ok: true,
        fact: { kind: 'sensor-presence', sensor: route.sensor.key, online, device, receivedAt },
      };
    }
    case 'drive-state': {
      const read = readDriveState(json);
      if (!read.ok) return read;
      return { ok: true, fact: { kind: 'drive', motor: route.motor, ...read.value, receivedAt } };
    }
    case 'drive-presence': {
      const read = readDrivePresence(json);
      if (!read.ok) return read;
      return {
        ok: true,
        fact: { kind: 'drive-presence', motor: route.motor, online: read.value.online, receivedAt },
      };
    }
  }
}

function tellError(error: unknown): string {
  const text = error instanceof Error ? error.message : String(error);
  return text.length > 120 ? `${text.slice(0, 120)}…` : text;
}
