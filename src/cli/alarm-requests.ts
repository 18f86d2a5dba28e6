/** What `tallypost alarms` asks of a running gateway. */
import { formatUtc } from '../../shared/time.js';
import type { AlarmMessage } from '../../shared/out-messages.js';
import type { AlarmCriteria } from '../api/alarm-filter.js';
import { LIMIT_MOST } from '../api/parameters.js';
import type { AlarmAct } from '../core/facts.js';
import { type ActWish, type AlarmsWish, withoutAbsent } from './alarm-arguments.js';
import type { Outcome } from './alarm-text.js';
import { askGateway, GatewayRefusal } from './gateway-client.js';

const ALARMS = '/api/v1/alarms';

/** The IANA zone of the site. */
export async function zoneThere(address: string): Promise<string> {
  const body = (await askGateway(address, `${ALARMS}?state=shelved`, null)) as { zone: string };
  return body.zone;
}

/** `missing`: why the alarms of the store are not among them; null: they are. */
export interface ListedAlarms {
  readonly alarms: AlarmMessage[];
  readonly missing: string | null;
}

type AlarmsPage = ListedAlarms & { readonly next: string | null };

/** All pages of them. */
export async function listThere(criteria: AlarmCriteria, address: string): Promise<ListedAlarms> {
  const query = new URLSearchParams({ ...withoutAbsent(criteria), limit: String(LIMIT_MOST) });
  const alarms: AlarmMessage[] = [];
  for (;;) {
    const page = (await askGateway(address, `${ALARMS}?${query.toString()}`, null)) as AlarmsPage;
    alarms.push(...page.alarms);
    if (page.next === null) return { alarms, missing: page.missing };
    query.set('cursor', page.next);
  }
}

export async function showThere(id: string, address: string): Promise<AlarmMessage> {
  return (await askGateway(address, `${ALARMS}/${encodeURIComponent(id)}`, null)) as AlarmMessage;
}

/** Last part of the address of each act. */
const PATHS: Readonly<Record<AlarmAct['do'], string>> = {
  acknowledge: 'acknowledge',
  confirm: 'confirm',
  reset: 'reset',
  shelve: 'shelve',
  unshelve: 'unshelve',
  'take-out-of-service': 'out-of-service',
  'return-to-service': 'return-to-service',
};

export async function actThere(
  wish: Exclude<AlarmsWish, { do: 'list' | 'show' | 'report' }>,
  address: string,
): Promise<Outcome[]> {
  const { who, note } = wish;
  if (wish.do === 'acknowledge-many') {
    const body = { who, note, ...withoutAbsent(wish.criteria) };
    return ((await askGateway(address, `${ALARMS}/acknowledge`, body)) as { results: Outcome[] }).results;
  }
  const outcomes: Outcome[] = [];
  for (const id of wish.alarms) outcomes.push(await actOn(id, wish, address));
  return outcomes;
}

/** One that does not apply does not keep the others from being done. */
async function actOn(id: string, { act, who, note }: ActWish, address: string): Promise<Outcome> {
  const shelf = act.do === 'shelve' ? { until: formatUtc(act.until), once: act.once } : {};
  const path = `${ALARMS}/${encodeURIComponent(id)}/${PATHS[act.do]}`;
  try {
    const { state } = (await askGateway(address, path, { who, note, ...shelf })) as AlarmMessage;
    return { id, done: true, state, reason: '', says: '' };
  } catch (error) {
    if (!(error instanceof GatewayRefusal)) throw error;
    return { id, done: false, state: null, reason: error.reason, says: `${error.message} ${error.hint}` };
  }
}
