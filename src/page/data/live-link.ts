/**
 * The one connection that keeps the page alive: loads the plant, follows the live stream, notices when the gateway falls
 * silent, and comes back by itself. Whatever comes while a load is under way is applied again on top of its answer, so that
 * an old answer never undoes a new event. After a break everything is loaded again: nothing can have been missed.
 */
import { signal } from '@preact/signals';
import { fetchBody, toProblem } from './api-client.js';
import type { AlarmsBody, MotorsBody } from './bodies.js';
import { readNow, setClock } from './clock.js';
import { onLive, tellLive, type LiveEvents, type LiveKind } from './live-events.js';
import { isLoginNeeded } from './session.js';
import { takeAlarm, takeAlarms, takeDrive, takeMotors, takeRate, takeTransient } from './plant.js';

/** A quiet stream is asked whether it still lives after so long, and given up after so long again. */
const QUIET_MS = 20_000;
const PROBE_MS = 5_000;
const WATCH_EVERY_MS = 1_000;
const RETRY_LEAST_MS = 1_000;
const RETRY_MOST_MS = 10_000;
/** What no event tells: a run state that became unknown because nobody spoke of it any more. */
const RELOAD_EVERY_MS = 60_000;

export interface Link {
  readonly state: 'opening' | 'live' | 'lost';
  /** when the gateway was heard last, by its own clock; null: never yet */
  readonly heardAt: number | null;
  /** why it is lost, in words; empty: it is not */
  readonly says: string;
}

export const link = signal<Link>({ state: 'opening', heardAt: null, says: '' });

let stream: EventSource | null = null;
let retryMs = RETRY_LEAST_MS;
let retryTimer: number | null = null;
/** loads under way: of each, what came since it was asked for */
const underWay = new Set<(() => void)[]>();
let loadNumber = 0;
let newestTaken = 0;
let askedAt = 0;
/** events may have been missed, and lists have not been told so: no load has come through since */
let isAgainDue = false;
let isProbing = false;

const TAKERS: { readonly [K in LiveKind]?: (value: LiveEvents[K]) => void } = {
  rate: takeRate,
  alarm: takeAlarm,
  drive: takeDrive,
  transient: takeTransient,
};

function hear(): void {
  retryMs = RETRY_LEAST_MS;
  link.value = { state: 'live', heardAt: readNow(), says: '' };
}

function lose(says: string): void {
  if (link.value.state !== 'lost' || link.value.says !== says)
    link.value = { ...link.value, state: 'lost', says };
}

/** Loads everything that events keep up to date. Resolves to false when the gateway did not answer. */
async function loadPlant(): Promise<boolean> {
  const number = ++loadNumber;
  const since: (() => void)[] = [];
  underWay.add(since);
  askedAt = Date.now();
  try {
    const [motors, alarms] = await Promise.all([
      fetchBody<MotorsBody>('/motors'),
      fetchBody<AlarmsBody>('/alarms', { state: 'open' }),
    ]);
    // an answer that was overtaken by a newer one knows less
    if (number > newestTaken) {
      newestTaken = number;
      setClock(motors.now, motors.zone);
      takeMotors(motors);
      takeAlarms(alarms);
      for (const apply of since) apply();
    }
    hear();
    if (isAgainDue) {
      isAgainDue = false;
      tellLive('again', null);
    }
    return true;
  } catch (error) {
    lose(toProblem(error).message);
    return false;
  } finally {
    underWay.delete(since);
  }
}

function takeEvent<K extends LiveKind>(kind: K, text: string): void {
  const value = JSON.parse(text) as LiveEvents[K];
  const apply = (): void => TAKERS[kind]?.(value);
  for (const since of underWay) since.push(apply);
  apply();
  hear();
  tellLive(kind, value);
}

/** Loads the plant anew, and tells lists that follow events to do the same. */
async function loadAgain(): Promise<void> {
  isAgainDue = true;
  await loadPlant();
}

function openStream(): void {
  stream?.close();
  const opened = new EventSource('/api/v1/live');
  stream = opened;
  for (const kind of ['rate', 'alarm', 'drive', 'transient', 'journal'] as const)
    opened.addEventListener(kind, (event: MessageEvent<string>) => takeEvent(kind, event.data));
  for (const kind of ['missed', 'again']) opened.addEventListener(kind, () => void loadAgain());
  // after a break too: the browser connects again by itself
  opened.addEventListener('open', () => void loadAgain());
  opened.addEventListener('error', () => {
    lose('The connection to the gateway broke.');
    if (opened.readyState === EventSource.CLOSED) scheduleRetry();
  });
}

/** A stream that was refused stays closed: it is opened anew, ever more rarely. */
function scheduleRetry(): void {
  if (retryTimer !== null || isLoginNeeded.value) return;
  retryTimer = window.setTimeout(() => {
    retryTimer = null;
    openStream();
  }, retryMs);
  retryMs = Math.min(2 * retryMs, RETRY_MOST_MS);
}

/** A cable that was pulled out says nothing: after a silence the gateway is asked, and the stream opened anew if it is dead. */
async function probe(): Promise<void> {
  isProbing = true;
  try {
    const answer = await fetch('/live', { signal: AbortSignal.timeout(PROBE_MS), cache: 'no-store' });
    if (answer.ok && stream?.readyState === EventSource.OPEN) hear();
  } catch {
    lose('The gateway does not answer.');
    stream?.close();
    scheduleRetry();
  } finally {
    isProbing = false;
  }
}

function watch(): void {
  const { state, heardAt } = link.value;
  const isQuiet = heardAt !== null && readNow() - heardAt > QUIET_MS;
  if (isQuiet && state === 'live' && !isProbing) void probe();
  const everyMs = state === 'live' ? RELOAD_EVERY_MS : RETRY_MOST_MS;
  const isOpen = stream?.readyState === EventSource.OPEN;
  if (isOpen && underWay.size === 0 && Date.now() - askedAt > everyMs) void loadPlant();
}

/**
 * Call once; and again after a login, which opens the stream that was refused. What is there is shown at once; when the stream
 * stands it is loaded again, because what happened in between came by neither way.
 */
export function followPlant(): void {
  void loadPlant();
  if (retryTimer !== null) clearTimeout(retryTimer);
  retryTimer = null;
  retryMs = RETRY_LEAST_MS;
  openStream();
}

/** Call once. */
export function watchLink(): void {
  setInterval(watch, WATCH_EVERY_MS);
  // a flood is told with the list of alarms, not with the one that began it
  onLive('journal', (entry) => {
    if (entry.what === 'flood-began' || entry.what === 'flood-ended') void loadPlant();
  });
}
