/**
 * The message as people read it: plain text, the most urgent first, each alarm with what is asked and what to beware of.
 * Evidence and a request, never a diagnosis; and never anything that a machine may act on to protect somebody.
 */
import type { NotifiedAlarm, Notification } from '../../shared/notification.js';
import { formatLocal } from './local-time.js';

type Body = Omit<Notification, 'subject' | 'text'>;

/** Alarms told at length; the rest of a message has a line each. */
const AT_LENGTH_MAX = 20;
/** Beyond this the gateway knew late, because its readings came late. */
const LATE_MS = 60_000;
const SUBJECT_LENGTH_MAX = 120;

export function writeSubject({ site, route, test, alarms, left_out: leftOut }: Body): string {
  if (test) return `[${site}] test of notification route ${route}`;
  const [first] = alarms;
  const more = alarms.length - 1 + leftOut;
  const rest = more > 0 ? ` (and ${more} more)` : '';
  if (first === undefined) return `[${site}] ${leftOut} alarms, see the alarm list`;
  return `[${site}] ${describeHead(first).slice(0, SUBJECT_LENGTH_MAX)}${rest}`;
}

function describeHead(alarm: NotifiedAlarm): string {
  const name = nameAlarm(alarm);
  switch (alarm.change) {
    case 'escalated':
      return `NOT ACKNOWLEDGED: ${alarm.priority} alarm, ${name}`;
    case 'raised':
      return `${alarm.priority} alarm: ${name}`;
    case 'raised-and-returned':
      return `came and went: ${name}`;
    case 'returned':
      return `returned to normal: ${name}`;
    case 'acknowledged':
      return `acknowledged: ${name}`;
  }
}

/** `booster-4 de, rate-high`. */
function nameAlarm({ motor, position, kind }: NotifiedAlarm): string {
  return position === null ? `${motor}, ${kind}` : `${motor} ${position}, ${kind}`;
}

export function writeText(body: Body, timeZone: string): string {
  const { site, route, test, alarms, left_out: leftOut } = body;
  const head = `Site ${site}, ${formatLocal(Date.parse(body.at), timeZone)} (${timeZone})`;
  if (test) {
    const asked = `Somebody tries notification route ${route}. There is no alarm, and nothing need be done.`;
    return [head, '', asked, '', ...foot(body)].join('\n');
  }
  const standing = alarms.filter(({ change }) => change === 'raised' || change === 'escalated');
  const passed = alarms.filter(({ change }) => change !== 'raised' && change !== 'escalated');
  const atLength = standing.slice(0, AT_LENGTH_MAX);
  const inShort = [...standing.slice(AT_LENGTH_MAX), ...passed];
  const lines = [head, ''];
  atLength.forEach((alarm, index) => lines.push(...tellAtLength(alarm, index + 1, timeZone), ''));
  if (inShort.length > 0) {
    if (atLength.length > 0) lines.push('Further:');
    lines.push(...inShort.map((alarm) => `- ${tellInShort(alarm, timeZone)}`), '');
  }
  if (leftOut > 0) lines.push(`And ${leftOut} more that are not listed here: see the alarm list.`, '');
  return [...lines, ...foot(body)].join('\n');
}

function tellAtLength(alarm: NotifiedAlarm, number: number, timeZone: string): string[] {
  const place = alarm.position === null ? '' : `, position ${alarm.position}`;
  const lines = [`${number}. Motor ${alarm.motor}${place}: ${alarm.kind}, ${alarm.priority} priority`];
  const add = (label: string, text: string): void => {
    if (text !== '') lines.push(`   ${label}: ${text}`);
  };
  if (alarm.change === 'escalated')
    add('Escalated', 'nobody has acknowledged it within its time to respond; you are the next to be told');
  add('Since', tellSince(alarm, timeZone));
  if (alarm.acknowledged_by !== '') add('Acknowledged', `by ${alarm.acknowledged_by}`);
  add('Why', alarm.says);
  add('What to do', alarm.action);
  add('If nobody acts', alarm.consequence);
  for (const caution of alarm.cautions) add('Caution', caution);
  return lines;
}

function tellSince({ since, known_at: knownAt, times }: NotifiedAlarm, timeZone: string): string {
  if (since === null) return '';
  const at = Date.parse(since);
  const known = knownAt === null ? at : Date.parse(knownAt);
  const late = known - at > LATE_MS ? `; known to the gateway since ${formatLocal(known, timeZone)}` : '';
  return `${formatLocal(at, timeZone)}${late}${times > 1 ? `; raised ${times} times meanwhile` : ''}`;
}

function tellInShort(alarm: NotifiedAlarm, timeZone: string): string {
  const name = `${nameAlarm(alarm)} (${alarm.priority})`;
  const local = (at: string | null): string =>
    at === null ? 'at a time not known' : formatLocal(Date.parse(at), timeZone);
  const times = alarm.times > 1 ? `, ${alarm.times} times` : '';
  const seen = alarm.acknowledged_by === '' ? '' : `, acknowledged by ${alarm.acknowledged_by}`;
  switch (alarm.change) {
    case 'raised-and-returned':
      return `${name}: raised ${local(alarm.since)}${times}, returned to normal ${local(alarm.returned_at)}${seen}`;
    case 'returned':
      return `${name}: returned to normal ${local(alarm.returned_at)}${seen}`;
    case 'acknowledged':
      return `${name}: acknowledged by ${alarm.acknowledged_by}`;
    case 'escalated':
      return `${name}: not acknowledged, stands since ${local(alarm.since)}: ${alarm.says}`;
    case 'raised':
      return `${name}: stands since ${local(alarm.since)}${times}${seen}: ${alarm.says}`;
  }
}

function foot({ id }: Body): string[] {
  return [
    '--',
    'Counts are evidence, not a diagnosis, and no safe count is known. Never use this message as an interlock, a trip,',
    'a protection input or a permit to work: local rules and authorised persons decide.',
    `Message ${id}. A message with the same id is the same message sent again.`,
  ];
}
