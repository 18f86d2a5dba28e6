/** Who sends what nobody expects: turned away by the intake, or not understood under any name of the configuration. */
import type { ApiDeps } from './deps.js';
import type { Denial, Refused } from './station-reader.js';
import type { STRANGER_KINDS } from './wiring-bodies.js';
import { DENIED } from './wiring-report.js';

export interface Stranger {
  readonly kind: (typeof STRANGER_KINDS)[number];
  readonly topic: string;
  readonly client: string;
  readonly login: string;
  readonly count: number;
  readonly firstAt: number;
  readonly lastAt: number;
  readonly rule: string;
  readonly todo: string;
}

const WHAT_TO_DO: Readonly<Record<Stranger['kind'], string>> = {
  'failed-login': 'Correct user name and password in the device, or add the login to mqtt.users.',
  'denied-publish': 'Correct the topic in the device, or give its login this sensor or motor in mqtt.users.',
  'denied-subscribe': 'Give it a login with the role reader, and subscribe to topics of the site.',
  'unknown-sender':
    'Add the motor and the position to the configuration, or correct the topic in the device.',
};

/** How the engine begins the reasons of messages under no known name. */
const UNKNOWN = ['unknown sensor', 'unknown motor', 'topic:'];

/** Newest first. */
export async function listStrangers(deps: ApiDeps): Promise<Stranger[]> {
  const [{ denied }, refused] = await Promise.all([deps.station.contacts([]), deps.reader.refused()]);
  const told = new Set(denied.filter(({ kind }) => kind === 'denied-publish').map(keyOf));
  // what was denied before this start is in the quarantine, without the login
  const kept = refused.filter((row) => row.reason.startsWith(DENIED) && !told.has(keyOf(row)));
  const unknown = refused.filter(({ reason }) => UNKNOWN.some((begin) => reason.startsWith(begin)));
  return [
    ...denied.map((row): Stranger => ({ ...row, todo: WHAT_TO_DO[row.kind] })),
    ...kept.map((row) => toStranger(row, 'denied-publish')),
    ...unknown.map((row) => toStranger(row, 'unknown-sender')),
  ].sort((a, b) => b.lastAt - a.lastAt || (a.topic < b.topic ? -1 : 1));
}

function keyOf({ topic, client }: Pick<Denial | Refused, 'topic' | 'client'>): string {
  return JSON.stringify([topic, client]);
}

function toStranger(row: Refused, kind: Stranger['kind']): Stranger {
  const { topic, client, count, firstAt, lastAt, reason } = row;
  return { kind, topic, client, login: '', count, firstAt, lastAt, rule: reason, todo: WHAT_TO_DO[kind] };
}
