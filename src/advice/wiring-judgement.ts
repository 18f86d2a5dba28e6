/** The links of the chain that are about what readings say: understood, plausible, classified. */
import {
  latest,
  NO_FAULT,
  overdueAfterMs,
  tellClient,
  tellSpan,
  type LinkFinding,
  type SensorTrace,
} from './wiring-trace.js';

/** By a device whose clock is wrong the times of readings say nothing: then what came since counts. */
const SAME_MESSAGE_MS = 250;

export function judgeMeaning(trace: SensorTrace): LinkFinding {
  const { refused, lastReadingAt, heard } = trace;
  const since = heard !== null && findClockFault(trace) !== null ? heard.at - SAME_MESSAGE_MS : null;
  const past =
    refused === null
      ? NO_FAULT
      : { faultAt: refused.at, fault: `a message of ${tellClient(refused.client)}: ${refused.reason}` };
  if (refused !== null && refused.at > (latest(lastReadingAt, since) ?? Number.NEGATIVE_INFINITY)) {
    const todo = 'Compare the payload with the contract; the quarantine holds its first bytes.';
    return { state: 'fault', at: lastReadingAt, ...past, says: past.fault, todo };
  }
  if (lastReadingAt === null)
    return { state: 'unknown', at: null, ...past, says: 'no reading has been understood yet', todo: '' };
  return { state: 'ok', at: lastReadingAt, ...past, says: 'its readings can be read', todo: '' };
}

/** What instrument alarms ask for. */
const ALARM_TODO: Readonly<Record<string, string>> = {
  rejecting: 'Look for interference, a torn counter or a maximum rate that is set too low.',
  saturated: 'The device counts at its limit: the true rate is higher. Check its dead time and its placing.',
  'counter-unknown':
    'The counter falls without saying why: have the device send boot and seq, check its supply.',
};

type Doubt = SensorTrace['diagnostics'][number];

/** Single events that make figures doubtful, in plain words; what is merely repeated or late is none of them. */
const EVENTS: Readonly<Record<string, readonly [says: string, todo: string]>> = {
  conflict: [
    'two different readings had the same key',
    'Look for two devices that publish for the same sensor, or one that sends a number twice.',
  ],
  misfit: [
    'a late reading fitted nowhere between those that are stored',
    'Look for two devices that publish for the same sensor.',
  ],
  'clock-step': ['the clock of the device jumped', 'See to the time source of the device.'],
};
/** Whoever mends what caused an event must see that it does not come again: so long it stands. Our choice. */
const EVENT_MS = 300_000;
const CLOCK_TODO =
  'Set the clock of the device, or have it send no time at all. After 30 readings in order this link holds again.';

export function judgePlausible(trace: SensorTrace): LinkFinding {
  const { alarms, diagnostics, lastReadingAt: at, now } = trace;
  const clock = findClockFault(trace);
  const event = newestOf(diagnostics.filter(({ kind }) => kind in EVENTS));
  const past = tellPastDoubt(trace, event);
  const alarm = alarms.find(({ kind }) => kind in ALARM_TODO);
  if (alarm !== undefined) {
    const fault = alarm.says === '' ? `the alarm ${alarm.kind} stands` : alarm.says;
    return { state: 'fault', at, faultAt: alarm.since, fault, says: fault, todo: ALARM_TODO[alarm.kind]! };
  }
  if (clock !== null) {
    const fault = `the clock of the device is wrong: ${clock.detail}`;
    return { state: 'fault', at, faultAt: clock.lastAt, fault, says: fault, todo: CLOCK_TODO };
  }
  if (event !== null && now - event.lastAt < EVENT_MS)
    return { state: 'fault', at, ...past, says: past.fault, todo: EVENTS[event.kind]![1] };
  if (at === null) return { state: 'unknown', at, ...past, says: 'there is no reading to judge', todo: '' };
  return { state: 'ok', at, ...past, says: 'counts, order and times fit together', todo: '' };
}

/**
 * The clock is off until it was said to be right again, or is known to be: stores of before have no word of that. A time that could not
 * be used at all counts while such come.
 */
function findClockFault({ diagnostics, now, intervalMs, isClockOff }: SensorTrace): Doubt | null {
  const of = (kind: string): Doubt | undefined => diagnostics.find((each) => each.kind === kind);
  const unusable = of('clock-doubtful');
  if (unusable !== undefined && now - unusable.lastAt <= overdueAfterMs(intervalMs)) return unusable;
  const off = of('clock-off');
  if (isClockOff === false) return null;
  return off !== undefined && off.lastAt > (of('clock-right')?.lastAt ?? -Infinity) ? off : null;
}

/** The newest of what is over: an event, a wrong clock, an alarm that has returned. */
function tellPastDoubt(
  { diagnostics, ended }: SensorTrace,
  event: Doubt | null,
): Pick<LinkFinding, 'faultAt' | 'fault'> {
  const clock = newestOf(diagnostics.filter(({ kind }) => kind === 'clock-off' || kind === 'clock-doubtful'));
  const alarm = ended.find(({ kind }) => kind in ALARM_TODO);
  const told = [
    event && { faultAt: event.lastAt, fault: `${EVENTS[event.kind]![0]}: ${event.detail}` },
    clock && { faultAt: clock.lastAt, fault: `the clock of the device was wrong: ${clock.detail}` },
    alarm && { faultAt: alarm.at, fault: `the alarm ${alarm.kind} stood until then` },
  ].flatMap((each) => each ?? []);
  return told.sort((a, b) => b.faultAt - a.faultAt)[0] ?? NO_FAULT;
}

function newestOf(doubts: readonly Doubt[]): Doubt | null {
  return doubts.reduce<Doubt | null>(
    (last, each) => (last === null || each.lastAt > last.lastAt ? each : last),
    null,
  );
}

/** Reasons of the gate in plain words, with what to do. */
const REASONS: Readonly<Record<string, readonly [says: string, todo: string]>> = {
  'too-long': [
    'readings lie too far apart',
    'Send readings as often as the configuration says, or configure what is true.',
  ],
  'unknown-run-state': ['the run state was not known', 'See the link of the run state.'],
  'no-length': ['readings carry no usable time', 'Have the device send `at`, or `up_ms`.'],
  'clock-step': ['the clock of the device jumped', 'See to the time source of the device.'],
  'clock-off': ['the clock of the device is wrong near a start or stop', 'Set the clock of the device.'],
  'run-state-not-settled': [
    'the run state came too late',
    'Have the drive report at once, or shorten its heartbeat.',
  ],
  'modulating-while-stopped': [
    'the drive says stopped and modulating at once',
    'Correct the mapping of the drive state.',
  ],
  'running-without-modulation': [
    'the drive says running without modulation',
    'A bypass is in use, or the mapping of the drive state is wrong.',
  ],
  'power-up-unknown': ['nobody knows when the device was powered up', 'Have the device send `up_ms`.'],
  'straddles-an-edge': ['increments span a change of state', 'Send readings more often.'],
};

/** Our choice: less than half usable is a fault, as of the notice `gate-starved` of the design. */
const USABLE_SHARE_MIN = 0.5;

export function judgeClasses({ classes, lastReadingAt, now, intervalMs }: SensorTrace): LinkFinding {
  const { to, ms, reason, reasonAt } = classes;
  const told = REASONS[reason];
  const past = reason === '' ? NO_FAULT : { faultAt: reasonAt, fault: `set aside: ${told?.[0] ?? reason}` };
  const total = Object.values(ms).reduce((sum, each) => sum + each, 0);
  const lost = (ms['unattributed'] ?? 0) + (ms['rejected'] ?? 0);
  if (to === null) {
    const says =
      lastReadingAt === null ? 'there is no reading to classify' : 'the first readings wait for their class';
    return { state: 'unknown', at: to, ...past, says, todo: '' };
  }
  if (total === 0 && reasonAt === to)
    return { state: 'unknown', at: to, ...past, says: `the first ones are ${past.fault}`, todo: '' };
  if (total > 0 && lost / total > 1 - USABLE_SHARE_MIN) {
    const share = `${Math.round((100 * lost) / total)} % of the last ten minutes is unattributed or rejected`;
    const says = told === undefined ? share : `${share}: ${told[0]}`;
    return { state: 'fault', at: to, ...past, says, todo: told?.[1] ?? 'See the ledger for the reasons.' };
  }
  const behindMs = (latest(lastReadingAt) ?? to) - to;
  const waiting = behindMs > overdueAfterMs(intervalMs) + 120_000;
  if (waiting) {
    const says = `readings wait for their class for ${tellSpan(now - to)}`;
    return { state: 'fault', at: to, ...past, says, todo: 'See the link of the run state.' };
  }
  const names = Object.entries(ms).filter(([, each]) => each > 0);
  const mainly = names.sort(([, a], [, b]) => b - a)[0]?.[0];
  const says =
    mainly === undefined ? 'its readings have their class' : `over the last ten minutes mainly ${mainly}`;
  return { state: 'ok', at: to, ...past, says, todo: '' };
}
