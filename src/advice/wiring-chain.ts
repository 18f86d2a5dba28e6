/**
 * The chain from a sensor in the field to the receivers of its figures, link by link: which holds, which does not, since
 * when, and what to do. Why a chain: whoever wires a sensor must see at a glance how far its messages come.
 * Source: our choice of links and of what breaks each; times in ms.
 */
import { judgeClasses, judgeMeaning, judgePlausible, judgeRunState } from './wiring-judgement.js';
import {
  latest,
  overdueAfterMs,
  tellClient,
  tellSpan,
  type Link,
  type LinkFinding,
  type LinkName,
  type SensorTrace,
  type SinkTrace,
} from './wiring-trace.js';

/** All eight links, from the field inwards. */
export function traceSensor(trace: SensorTrace): Link[] {
  const seen = judgeSeen(trace);
  const authorised = judgeAuthorised(trace);
  const understood = judgeMeaning(trace);
  const isCut = [seen, authorised, understood].some(({ state }) => state === 'fault');
  const behind = (finding: LinkFinding): LinkFinding => (isCut ? withoutReadings(finding) : finding);
  return [
    { link: 'seen', ...seen },
    { link: 'authorised', ...authorised },
    { link: 'understood', ...understood },
    { link: 'plausible', ...behind(judgePlausible(trace)) },
    { link: 'run-state', ...judgeRunState(trace.drive) },
    { link: 'classified', ...behind(judgeClasses(trace)) },
    { link: 'stored', ...judgeStored(trace, isCut) },
    { link: 'forwarded', ...judgeForwarded(trace.sinks) },
  ];
}

/** The first link at fault; null: none is. */
export function findBreak(chain: readonly Link[]): LinkName | null {
  return chain.find(({ state }) => state === 'fault')?.link ?? null;
}

const NO_FAULT = { faultAt: null, fault: '' } as const;

/** A link that has nothing to show because the readings end before it keeps its past and is not blamed. */
function withoutReadings(finding: LinkFinding): LinkFinding {
  return { ...finding, state: 'unknown', says: 'no usable readings come as far as here', todo: '' };
}

function judgeSeen({ now, heard, denied, lastReadingAt, intervalMs, upMs, topic }: SensorTrace): LinkFinding {
  const at = latest(heard?.at, lastReadingAt, denied?.at);
  const patienceMs = overdueAfterMs(intervalMs);
  const todo =
    `Check that the sensor has power and reaches the broker, and that it publishes to ${topic}; ` +
    'look for its client among the unknown senders.';
  if (at === null) {
    if (upMs < patienceMs)
      return {
        state: 'unknown',
        at,
        ...NO_FAULT,
        says: 'nothing yet; the gateway has just started',
        todo: '',
      };
    const fault = 'nothing has ever come from it';
    return { state: 'fault', at, faultAt: now, fault, says: fault, todo };
  }
  if (now - at <= patienceMs) return { state: 'ok', at, ...NO_FAULT, says: 'its messages come in', todo: '' };
  if (upMs < patienceMs)
    return { state: 'unknown', at, ...NO_FAULT, says: 'nothing since the gateway started', todo: '' };
  const fault = `silent for ${tellSpan(now - at)}, although a reading is due every ${tellSpan(intervalMs)}`;
  return { state: 'fault', at, faultAt: now, fault, says: fault, todo };
}

function judgeAuthorised({ heard, denied, lastReadingAt }: SensorTrace): LinkFinding {
  const at = latest(heard?.at, lastReadingAt);
  const past =
    denied === null
      ? NO_FAULT
      : { faultAt: denied.at, fault: `${tellClient(denied.client)} was turned away: ${denied.rule}` };
  if (denied !== null && denied.at > (at ?? Number.NEGATIVE_INFINITY)) {
    const todo = 'Compare the user name, the password and the sensors of its login with mqtt.users.';
    return { state: 'fault', at, ...past, says: past.fault, todo };
  }
  if (at === null) return { state: 'unknown', at, ...past, says: 'nobody has asked to be let in', todo: '' };
  return { state: 'ok', at, ...past, says: 'its client may publish for it', todo: '' };
}

function judgeStored({ lastReadingAt, notStoring }: SensorTrace, isCut: boolean): LinkFinding {
  if (notStoring.length > 0) {
    const fault = `nothing is stored: ${notStoring.join('; ')}`;
    const todo =
      'See the storage and clock of the gateway; nothing is acknowledged meanwhile, so nothing is lost.';
    return { state: 'fault', at: lastReadingAt, faultAt: null, fault, says: fault, todo };
  }
  if (lastReadingAt === null)
    return { state: 'unknown', at: null, ...NO_FAULT, says: 'no reading is stored yet', todo: '' };
  const says = isCut
    ? 'the readings that came are stored'
    : 'its readings are on disk before they are answered';
  return { state: 'ok', at: lastReadingAt, ...NO_FAULT, says, todo: '' };
}

function judgeForwarded(sinks: readonly SinkTrace[]): LinkFinding {
  const at = sinks.reduce<number | null>((newest, sink) => latest(newest, sink.lastDeliveredAt), null);
  const failing = sinks.filter(({ isFailing }) => isFailing);
  if (sinks.length === 0)
    return { state: 'unknown', at, ...NO_FAULT, says: 'no receiver is configured', todo: '' };
  if (failing.length > 0) {
    const fault = failing.map(({ sink, says }) => `${sink}: ${says}`).join('; ');
    const todo = 'What waits is kept for it; see the sinks of the gateway.';
    return { state: 'fault', at, faultAt: null, fault, says: fault, todo };
  }
  return {
    state: 'ok',
    at,
    ...NO_FAULT,
    says: `goes to ${sinks.map(({ sink }) => sink).join(', ')}`,
    todo: '',
  };
}
