/**
 * One journal entry into what waits on the routes. Only entries that say that the operator was told (`annunciated`) raise a
 * message; what is shelved, suppressed, out of service or grouped is not told, and is taken out where it still waits.
 */
import type { JournalChange } from '../../shared/alarm-terms.js';
import type { KnownEntry } from './journal-page.js';
import type { NotifyPlan } from './notify-plan.js';
import { routeStateOf, type Item, type NotifyState } from './notify-state.js';
import { isOpen, matchesRoute, type Route } from './routes.js';

/** Different alarms that wait on one route; more are counted only. A plant of 500 sensors has fewer. */
const ITEMS_MAX = 5_000;

const ENDINGS: readonly JournalChange[] = ['returned', 'flood-ended'];
/** States after a return that nobody is to hear of. */
const HIDDEN: readonly string[] = ['shelved', 'suppressed-by-design', 'out-of-service'];
const HIDINGS: readonly JournalChange[] = ['shelved', 'suppressed', 'taken-out-of-service', 'grouped'];
const SHOWINGS: readonly JournalChange[] = [
  'unshelved',
  'shelf-expired',
  'unsuppressed',
  'returned-to-service',
  'ungrouped',
];

/** Changes `state`. Entries are expected in the order of their ids; one that was taken in before changes nothing. */
export function takeEntry(state: NotifyState, entry: KnownEntry, plan: NotifyPlan, now: number): void {
  if (entry.id <= state.cursor) return;
  state.cursor = entry.id;
  if (ENDINGS.includes(entry.what)) takeReturn(state, entry, plan, now);
  else if (HIDINGS.includes(entry.what)) takeHiding(state, entry);
  else if (entry.what === 'acknowledged') takeAcknowledgement(state, entry, plan, now);
  else if (isTold(entry)) takeRaise(state, entry, plan, now);
  else if (SHOWINGS.includes(entry.what)) takeShowing(state, entry, plan, now);
}

/** A flood is no alarm, so that the journal does not count it as announced; whoever gets the alarms wants to know of it. */
function isTold({ annunciated, what }: KnownEntry): boolean {
  return annunciated || what === 'flood-began';
}

/** The time to respond runs from here: nobody can respond to what was not told. */
function takeRaise(state: NotifyState, entry: KnownEntry, plan: NotifyPlan, now: number): void {
  const told: string[] = [];
  const waits: { from: string; to: string; at: number }[] = [];
  for (const route of plan.routes.values()) {
    if (!matchesRoute(route, entry.facts) || !takesNow(route, plan, now)) continue;
    addItem(state, route, plan, now, { alarm: entry.subject, raised: entry.id, isNew: true });
    told.push(route.name);
    if (route.escalateTo !== null && entry.to === 'unacknowledged')
      waits.push({ from: route.name, to: route.escalateTo, at: now + entry.facts.respondMs });
  }
  if (told.length === 0) state.standing.delete(entry.subject);
  else state.standing.set(entry.subject, { raised: entry.id, respondMs: entry.facts.respondMs, told, waits });
}

/**
 * Who was told that it came is told that it went, unless it is hidden now; also where another alarm came to stand for it, of
 * which the journal says that nobody was told anew. What latched still waits for somebody to acknowledge it.
 */
function takeReturn(state: NotifyState, entry: KnownEntry, plan: NotifyPlan, now: number): void {
  const standing = state.standing.get(entry.subject);
  if (standing === undefined) return;
  for (const name of standing.told) {
    const route = plan.routes.get(name);
    if (route === undefined) continue;
    const waiting = findItem(state, name, entry.subject);
    if (waiting !== undefined) waiting.returned = entry.id;
    else if (!HIDDEN.includes(entry.to) && route.tellReturns && takesNow(route, plan, now)) {
      const about = { alarm: entry.subject, raised: standing.raised, returned: entry.id };
      addItem(state, route, plan, now, about);
    }
  }
  if (entry.to === 'latched-unacknowledged') return;
  state.standing.delete(entry.subject);
}

function takeAcknowledgement(state: NotifyState, entry: KnownEntry, plan: NotifyPlan, now: number): void {
  const standing = state.standing.get(entry.subject);
  if (standing === undefined) return;
  standing.waits = [];
  for (const name of standing.told) {
    const route = plan.routes.get(name);
    if (route === undefined) continue;
    const waiting = findItem(state, name, entry.subject);
    if (waiting !== undefined) waiting.acknowledged = entry.id;
    else if (route.tellAcknowledgements && takesNow(route, plan, now)) {
      const about = { alarm: entry.subject, raised: standing.raised, acknowledged: entry.id };
      addItem(state, route, plan, now, about);
    }
  }
}

/** A person or the design hides it: nobody need be told, and nobody else be called. */
function takeHiding(state: NotifyState, entry: KnownEntry): void {
  const standing = state.standing.get(entry.subject);
  if (standing !== undefined) standing.waits = [];
  for (const [name, route] of state.routes) {
    if (route.items.get(entry.subject)?.isNew !== true) continue;
    route.items.delete(entry.subject);
    if (route.items.size === 0 && route.leftOut === 0) route.dueAt = null;
    if (standing === undefined) continue;
    standing.told = standing.told.filter((told) => told !== name);
    standing.takenOut = [...(standing.takenOut ?? []), name];
  }
}

/**
 * It stands open again, and the operator was told of it before it was hidden, so that the journal does not announce it anew.
 * Routes that had not told it yet do so now, and the time to respond begins again.
 */
function takeShowing(state: NotifyState, entry: KnownEntry, plan: NotifyPlan, now: number): void {
  const standing = state.standing.get(entry.subject);
  if (standing === undefined || entry.to !== 'unacknowledged') return;
  for (const name of standing.takenOut ?? []) {
    const route = plan.routes.get(name);
    if (route === undefined) continue;
    addItem(state, route, plan, now, { alarm: entry.subject, raised: standing.raised, isNew: true });
    standing.told.push(name);
  }
  delete standing.takenOut;
  standing.waits = standing.told.flatMap((from) => {
    const to = plan.routes.get(from)?.escalateTo ?? null;
    return to === null || standing.told.includes(to) ? [] : [{ from, to, at: now + standing.respondMs }];
  });
}

/** A route that hears of escalations only is told at any hour, so of their end too. */
function takesNow(route: Route, plan: NotifyPlan, now: number): boolean {
  return route.onlyEscalated || route.outside === 'wait' || isOpen(route, now, plan.timeZone);
}

function findItem(state: NotifyState, route: string, alarm: string): Item | undefined {
  return state.routes.get(route)?.items.get(alarm);
}

/** Adds news of an alarm to a route; what waits of the same alarm is brought up to date instead. */
export function addItem(
  state: NotifyState,
  route: Route,
  plan: NotifyPlan,
  now: number,
  news: Pick<Item, 'alarm' | 'raised'> & Partial<Item>,
): void {
  const waiting = routeStateOf(state, route.name, route.burst);
  waiting.dueAt ??= now + plan.waitMs;
  const before = waiting.items.get(news.alarm);
  if (before === undefined && waiting.items.size >= ITEMS_MAX) {
    waiting.leftOut += 1;
    return;
  }
  const blank = { isNew: false, returned: null, acknowledged: null, times: 1, escalatedFrom: null };
  const fresh: Item = { ...blank, ...news };
  const times = before?.isNew === true && fresh.isNew ? before.times + 1 : 1;
  const escalatedFrom = fresh.escalatedFrom ?? before?.escalatedFrom ?? null;
  waiting.items.set(news.alarm, { ...fresh, times, escalatedFrom });
}
