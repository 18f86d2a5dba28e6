/** The links at the door: whether anything comes from a sensor, and whether its login may publish for it. */
import {
  latest,
  NO_FAULT,
  overdueAfterMs,
  tellClient,
  tellPast,
  tellSpan,
  type DenialTrace,
  type LinkFinding,
  type SensorTrace,
} from './wiring-trace.js';

export function judgeSeen(trace: SensorTrace): LinkFinding {
  const { now, denied, intervalMs, upMs, topic, hasLogin } = trace;
  const through = lastThrough(trace);
  const at = latest(through, denied?.at);
  const past = tellPast(trace.ended, 'no-readings', 'it was silent until then');
  const patienceMs = overdueAfterMs(intervalMs);
  const todo =
    `Check that the sensor has power and reaches the broker, and that it publishes to ${topic}; ` +
    'look for its client among the unknown senders.';
  const isFresh = upMs < patienceMs;
  if (!hasLogin && !isInTime(trace)) return unknown(at, past, 'nothing can come from it: see the next link');
  if (at === null) {
    if (isFresh) return unknown(at, past, 'nothing yet; the gateway has just started');
    const fault = 'nothing has ever come from it';
    return { state: 'fault', at, faultAt: null, fault, says: fault, todo };
  }
  if (denied !== null && denied.at > (through ?? -Infinity) && !isInTime(trace)) {
    const says = `it came ${tellSpan(now - denied.at)} ago and was turned away: see the next link`;
    return unknown(at, past, says);
  }
  if (now - at <= patienceMs) return { state: 'ok', at, ...past, says: 'its messages come in', todo: '' };
  if (isFresh) return unknown(at, past, 'nothing since the gateway started');
  const fault = `silent for ${tellSpan(now - at)}, although a reading is due every ${tellSpan(intervalMs)}`;
  return { state: 'fault', at, faultAt: at + patienceMs, fault, says: fault, todo };
}

/**
 * A denial counts against a sensor while nothing comes through, or where whoever came through is turned away now: others may try
 * its topic, or share its login, and break nothing.
 */
export function judgeAuthorised(trace: SensorTrace): LinkFinding {
  const { denied, topic, hasLogin } = trace;
  const at = lastThrough(trace);
  const past = denied === null ? NO_FAULT : { faultAt: denied.at, fault: tellDenied(denied, topic) };
  const isTurned = denied !== null && denied.at > (at ?? -Infinity);
  if (isInTime(trace) && !(isTurned && isOwn(trace)))
    return { state: 'ok', at, ...past, says: 'its client may publish for it', todo: '' };
  if (!hasLogin) {
    const fault = `no login may publish to ${topic}`;
    const todo = 'Add the sensor to the sensors of its login in mqtt.users.';
    return { state: 'fault', at, faultAt: null, fault, says: fault, todo };
  }
  if (isTurned) {
    const todo =
      denied.topic !== '' && denied.topic !== topic
        ? `Correct the topic in the device: ${topic}.`
        : 'Compare the user name, the password and the sensors of its login with mqtt.users.';
    return { state: 'fault', at, ...past, says: past.fault, todo };
  }
  if (at === null) return unknown(at, past, 'nobody has asked to be let in');
  return { state: 'ok', at, ...past, says: 'its client may publish for it', todo: '' };
}

function tellDenied({ client, topic: tried, rule }: DenialTrace, topic: string): string {
  const where = tried === '' || tried === topic ? '' : ` from ${tried}`;
  return `${tellClient(client)} was turned away${where}: ${rule}`;
}

/** When something of it was last let in; null: never. */
function lastThrough({ heard, lastReadingAt }: SensorTrace): number | null {
  return latest(heard?.at, lastReadingAt);
}

function isInTime(trace: SensorTrace): boolean {
  const at = lastThrough(trace);
  return at !== null && trace.now - at <= overdueAfterMs(trace.intervalMs);
}

/** Whether it was its own client that was turned away, at this very topic or at its login. */
function isOwn({ denied, heard, topic }: SensorTrace): boolean {
  if (denied === null) return false;
  const isSame = heard?.client === denied.client;
  return denied.topic === '' ? isSame || !denied.isShared : isSame && denied.topic === topic;
}

function unknown(at: number | null, past: Pick<LinkFinding, 'faultAt' | 'fault'>, says: string): LinkFinding {
  return { state: 'unknown', at, ...past, says, todo: '' };
}
