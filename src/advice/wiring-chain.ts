/**
 * The chain from a sensor in the field to the receivers of its figures, link by link: which holds, which does not, since
 * when, and what to do. Why a chain: whoever wires a sensor must see at a glance how far its messages come.
 * Source: our choice of links and of what breaks each; times in ms.
 */
import { judgeAuthorised, judgeSeen } from './wiring-door.js';
import { judgeClasses, judgeMeaning, judgePlausible } from './wiring-judgement.js';
import { judgeRunState } from './wiring-drive.js';
import {
  latest,
  NO_FAULT,
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
    { link: 'run-state', ...judgeRunState(trace) },
    { link: 'classified', ...behind(judgeClasses(trace)) },
    { link: 'stored', ...judgeStored(trace, isCut) },
    { link: 'forwarded', ...judgeForwarded(trace.sinks) },
  ];
}

/** The first link at fault; null: none is. */
export function findBreak(chain: readonly Link[]): LinkName | null {
  return chain.find(({ state }) => state === 'fault')?.link ?? null;
}

/** A link that has nothing to show because the readings end before it keeps its past and is not blamed. */
function withoutReadings(finding: LinkFinding): LinkFinding {
  return { ...finding, state: 'unknown', says: 'no usable readings come as far as here', todo: '' };
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
  const past = tellLastError(sinks);
  if (sinks.length === 0)
    return { state: 'unknown', at, ...past, says: 'no receiver is configured', todo: '' };
  const failing = sinks.filter(({ isFailing }) => isFailing);
  if (failing.length > 0) {
    const fault = failing.map(({ sink, says }) => `${sink}: ${says}`).join('; ');
    const names = failing.map(({ sink }) => sink).join(', ');
    const todo =
      `What waits is kept. See that the receiver runs, can be reached and has room, and compare address and login with ` +
      `sinks in the configuration; tallypost sinks test says more (${names}).`;
    return { state: 'fault', at, faultAt: past.faultAt, fault, says: fault, todo };
  }
  const served = sinks.filter(({ lastDeliveredAt }) => lastDeliveredAt !== null);
  const idle = sinks.filter(({ lastDeliveredAt }) => lastDeliveredAt === null);
  const nothing = `nothing has gone to ${idle.map(({ sink }) => sink).join(', ')} yet`;
  if (served.length === 0) return { state: 'unknown', at, ...past, says: nothing, todo: '' };
  const goes = `goes to ${served.map(({ sink }) => sink).join(', ')}`;
  return { state: 'ok', at, ...past, says: idle.length === 0 ? goes : `${goes}; ${nothing}`, todo: '' };
}

/** What a receiver answered when it last took nothing. */
function tellLastError(sinks: readonly SinkTrace[]): Pick<LinkFinding, 'faultAt' | 'fault'> {
  const at = sinks.reduce<number | null>((newest, sink) => latest(newest, sink.lastErrorAt), null);
  const last = at === null ? undefined : sinks.find(({ lastErrorAt }) => lastErrorAt === at);
  return last === undefined ? NO_FAULT : { faultAt: at, fault: `${last.sink}: ${last.lastError}` };
}
