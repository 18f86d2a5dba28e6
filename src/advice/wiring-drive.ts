/** The link of the run state: whether the drive says how the motor stands, and whether that can be used. */
import { NO_FAULT, tellClient, tellPast, type LinkFinding, type SensorTrace } from './wiring-trace.js';

/** A reporter's wrong clock counts while its messages still come with it: so long after the last of them. */
const DOUBT_MS = 120_000;

export function judgeRunState({ drive, ended, now }: SensorTrace): LinkFinding {
  const { hasRunState, hasLogin, topic, state, at, unknownFrom, clockDoubt } = drive;
  if (!hasRunState) {
    const says = 'no run-state signal is configured: taken as running throughout, uncertain';
    return { state: 'unknown', at: null, ...NO_FAULT, says, todo: '' };
  }
  const wrong = newestFault(drive);
  const past =
    wrong === null
      ? tellPast(ended, 'run-state-lost', 'nobody reported it until then')
      : { faultAt: wrong.at, fault: wrong.says };
  if (wrong !== null && wrong.at > (at ?? -Infinity)) {
    const todo =
      'Mend the message or the login of whoever reports the drive; the quarantine holds its first bytes.';
    return { state: 'fault', at, ...past, says: wrong.says, todo };
  }
  if (at === null) {
    const fault = 'the drive has never said how it stands';
    const publish = `have the drive, or whoever reports it, publish its state to ${topic}, retained`;
    const todo = hasLogin
      ? `${publish[0]!.toUpperCase()}${publish.slice(1)}.`
      : `No login may publish to its topic: add the motor to the motors of a login with the role drive in mqtt.users, and ${publish}.`;
    return { state: 'fault', at, faultAt: null, fault, says: fault, todo };
  }
  if (unknownFrom !== null) {
    const fault = 'its reporter fell silent or went away: the run state is unknown since then';
    const todo = 'Check the connection of whoever reports the drive, and its heartbeat.';
    return { state: 'fault', at, faultAt: unknownFrom, fault, says: fault, todo };
  }
  if (clockDoubt !== null && now - clockDoubt.at < DOUBT_MS) {
    const todo = 'Set the clock of whoever reports the drive, or have it send no time at all.';
    return {
      state: 'fault',
      at,
      faultAt: clockDoubt.at,
      fault: clockDoubt.says,
      says: clockDoubt.says,
      todo,
    };
  }
  const says = `the drive says ${state ?? 'nothing'}${drive.modulating ? ', modulating' : ''}`;
  return { state: 'ok', at, ...past, says, todo: '' };
}

/** What was turned away or could not be read, whichever is newer; null: neither. */
function newestFault({ denied, refused }: SensorTrace['drive']): { at: number; says: string } | null {
  const turned =
    denied === null
      ? null
      : { at: denied.at, says: `${tellClient(denied.client)} was turned away: ${denied.rule}` };
  const unread =
    refused === null
      ? null
      : { at: refused.at, says: `a message of ${tellClient(refused.client)}: ${refused.reason}` };
  return (turned?.at ?? -Infinity) > (unread?.at ?? -Infinity) ? turned : unread;
}
