/** The links of the chain that are about what messages say: understood, plausible, run state, classified. */
import {
  latest,
  overdueAfterMs,
  tellClient,
  tellSpan,
  type DriveTrace,
  type LinkFinding,
  type SensorTrace,
} from './wiring-trace.js';

const NO_FAULT = { faultAt: null, fault: '' } as const;
const HOUR_MS = 3_600_000;

export function judgeMeaning({ refused, lastReadingAt }: SensorTrace): LinkFinding {
  const past =
    refused === null
      ? NO_FAULT
      : { faultAt: refused.at, fault: `a message of ${tellClient(refused.client)}: ${refused.reason}` };
  if (refused !== null && refused.at > (lastReadingAt ?? Number.NEGATIVE_INFINITY)) {
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
  'clock-off': 'Set the clock of the device, or have it send no time at all.',
};

/** Diagnostics that make figures doubtful, in plain words; what is merely repeated or late is none of them. */
const DOUBTS: Readonly<Record<string, readonly [says: string, todo: string]>> = {
  conflict: [
    'two different readings had the same key',
    'Look for two devices that publish for the same sensor, or one that sends a number twice.',
  ],
  misfit: [
    'a late reading fitted nowhere between those that are stored',
    'Look for two devices that publish for the same sensor.',
  ],
  'clock-step': ['the clock of the device jumped', 'See to the time source of the device.'],
  'clock-off': ['the clock of the device is wrong', 'Set the clock of the device.'],
};

export function judgePlausible({ alarms, diagnostics, lastReadingAt, now }: SensorTrace): LinkFinding {
  const standing = alarms.filter(({ kind }) => kind in ALARM_TODO);
  const doubts = diagnostics.filter(({ kind }) => kind in DOUBTS);
  const newest = doubts.reduce<(typeof doubts)[number] | null>(
    (last, each) => (last === null || each.lastAt > last.lastAt ? each : last),
    null,
  );
  const past =
    newest === null
      ? NO_FAULT
      : { faultAt: newest.lastAt, fault: `${DOUBTS[newest.kind]![0]}: ${newest.detail}` };
  const alarm = standing[0];
  if (alarm !== undefined) {
    const fault = alarm.says === '' ? `the alarm ${alarm.kind} stands` : alarm.says;
    const todo = ALARM_TODO[alarm.kind]!;
    return { state: 'fault', at: lastReadingAt, faultAt: alarm.since, fault, says: fault, todo };
  }
  if (newest !== null && now - newest.lastAt < HOUR_MS)
    return { state: 'fault', at: lastReadingAt, ...past, says: past.fault, todo: DOUBTS[newest.kind]![1] };
  if (lastReadingAt === null)
    return { state: 'unknown', at: null, ...past, says: 'there is no reading to judge', todo: '' };
  return { state: 'ok', at: lastReadingAt, ...past, says: 'counts, order and times fit together', todo: '' };
}

export function judgeRunState(drive: DriveTrace): LinkFinding {
  const { hasRunState, topic, state, at, unknownFrom, refused, denied } = drive;
  if (!hasRunState) {
    const says = 'no run-state signal is configured: taken as running throughout, uncertain';
    return { state: 'unknown', at: null, ...NO_FAULT, says, todo: '' };
  }
  const turned =
    denied === null
      ? null
      : { at: denied.at, says: `${tellClient(denied.client)} was turned away: ${denied.rule}` };
  const unread =
    refused === null
      ? null
      : { at: refused.at, says: `a message of ${tellClient(refused.client)}: ${refused.reason}` };
  const wrong = (turned?.at ?? -Infinity) > (unread?.at ?? -Infinity) ? turned : unread;
  const past = wrong === null ? NO_FAULT : { faultAt: wrong.at, fault: wrong.says };
  if (wrong !== null && wrong.at > (at ?? -Infinity)) {
    const todo =
      'Mend the message or the login of whoever reports the drive; the quarantine holds its first bytes.';
    return { state: 'fault', at, ...past, says: wrong.says, todo };
  }
  if (at === null) {
    const fault = 'the drive has never said how it stands';
    const todo = `Have the drive, or whoever reports it, publish its state to ${topic}, retained.`;
    return { state: 'fault', at, faultAt: null, fault, says: fault, todo };
  }
  if (unknownFrom !== null) {
    const fault = 'its reporter fell silent or went away: the run state is unknown since then';
    const todo = 'Check the connection of whoever reports the drive, and its heartbeat.';
    return { state: 'fault', at, faultAt: unknownFrom, fault, says: fault, todo };
  }
  const says = `the drive says ${state ?? 'nothing'}${drive.modulating ? ', modulating' : ''}`;
  return { state: 'ok', at, ...past, says, todo: '' };
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
  if (total > 0 && lost / total > 1 - USABLE_SHARE_MIN) {
    const share = `${Math.round((100 * lost) / total)} % of the last hour is unattributed or rejected`;
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
  const says = mainly === undefined ? 'its readings have their class' : `over the last hour mainly ${mainly}`;
  return { state: 'ok', at: to, ...past, says, todo: '' };
}
