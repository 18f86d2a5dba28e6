/**
 * The one connection that keeps the page alive: loads the plant, follows the live stream, notices when the gateway falls
 * silent, and comes back by itself. Whatever comes while a load is under way is applied again on top of its answer, so that
 * an old answer never undoes a new event. After a break everything is loaded again: nothing can have been missed.
 */
import { computed, signal } from '@preact/signals';
import { LAST_ID_PARAMETER, LIVE_HEARTBEAT, LIVE_HEARTBEAT_MS } from '../../../shared/live-terms.js';
import { fetchWhole } from './all-pages.js';
import { addressOf, toProblem } from './api-client.js';
import type { AlarmsBody, MotorsBody } from './bodies.js';
import { readNow, setClock } from './clock.js';
import { onLive, tellLive, type LiveEvents, type LiveKind } from './live-events.js';
import { checkSession } from './session-check.js';
import { isLoginNeeded } from './session.js';
import { takeAlarm, takeAlarms, takeDrive, takeMotors, takeRate, takeTransient } from './plant.js';

/** After one heartbeat that did not come the gateway is asked whether it answers at all. */
const QUIET_MS = LIVE_HEARTBEAT_MS + 5_000;
const PROBE_MS = 5_000;
const PROBE_EVERY_MS = 5_000;
/** After two the stream is dead, even while the gateway answers: it is opened anew. A little is for the way. */
const SILENCE_MS_MOST = 2 * LIVE_HEARTBEAT_MS + 2_000;
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

/** What is shown is of earlier. Changes with that alone, not with each event. */
export const isLost = computed(() => link.value.state === 'lost');

/** By the gateway's clock: until when it was heard; null: it is heard now. What is silent since then may not be. */
export const heardUntil = computed(() => (isLost.value ? link.value.heardAt : null));

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
let probedAt = 0;
/** monotonic: when the stream was opened or last said anything */
let streamHeardAt = 0;
/** id of the last event that came; empty: none came yet */
let lastId = '';

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

/** Whatever the stream itself says. What comes by another way proves nothing about it. */
function hearStream(event: MessageEvent<string> | null): void {
  streamHeardAt = performance.now();
  if (event !== null && event.lastEventId !== '') lastId = event.lastEventId;
  hear();
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
      fetchWhole<MotorsBody>('/motors', 'motors'),
      fetchWhole<AlarmsBody>('/alarms', 'alarms', { state: 'open' }),
    ]);
    // an answer that was overtaken by a newer one knows less
    if (number > newestTaken) {
      newestTaken = number;
      setClock(motors.now, motors.zone);
      takeMotors(motors);
      takeAlarms(alarms);
      for (const apply of since) apply();
    }
    if (isStreamOpen()) hear();
    else link.value = { ...link.value, heardAt: readNow() };
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

function isStreamOpen(): boolean {
  return stream?.readyState === EventSource.OPEN;
}

function takeEvent<K extends LiveKind>(kind: K, event: MessageEvent<string>): void {
  hearStream(event);
  const value = JSON.parse(event.data) as LiveEvents[K];
  const apply = (): void => TAKERS[kind]?.(value);
  for (const since of underWay) since.push(apply);
  apply();
  tellLive(kind, value);
}

/** Loads the plant anew, and tells lists that follow events to do the same. */
async function loadAgain(): Promise<void> {
  isAgainDue = true;
  await loadPlant();
}

/** Opened anew it goes on behind the last event that came, as the browser's own attempts do. */
function openStream(): void {
  stream?.close();
  const opened = new EventSource(addressOf('/live', { [LAST_ID_PARAMETER]: lastId }));
  stream = opened;
  streamHeardAt = performance.now();
  const on = (kind: string, take: (event: MessageEvent<string>) => void): void =>
    opened.addEventListener(kind, (event: MessageEvent<string>) => {
      // what a stream that was given up still says is told again by the next one
      if (stream === opened) take(event);
    });
  for (const kind of ['rate', 'alarm', 'drive', 'transient', 'journal'] as const)
    on(kind, (event) => takeEvent(kind, event));
  on(LIVE_HEARTBEAT, hearStream);
  on('again', (event) => {
    hearStream(event);
    void loadAgain();
  });
  // after a break too: the browser connects again by itself
  on('open', () => {
    hearStream(null);
    // a gateway that was started again knows nobody any more
    void checkSession();
    void loadAgain();
  });
  on('error', () => {
    lose('The connection to the gateway broke.');
    if (opened.readyState === EventSource.CLOSED) scheduleRetry();
  });
}

/** A stream that was refused stays closed: it is opened anew, ever more rarely. */
function scheduleRetry(): void {
  if (retryTimer !== null || isLoginNeeded.value) return;
  retryTimer = window.setTimeout(() => {
    retryTimer = null;
    // a stream does not tell why it was refused: the answer to a request does
    void loadPlant();
    openStream();
  }, retryMs);
  retryMs = Math.min(2 * retryMs, RETRY_MOST_MS);
}

/** A cable that was pulled out says nothing: after a silence the gateway is asked, so that its end is told early. */
async function probe(): Promise<void> {
  isProbing = true;
  try {
    await fetch('/live', { signal: AbortSignal.timeout(PROBE_MS), cache: 'no-store' });
  } catch {
    lose('The gateway does not answer.');
    stream?.close();
    scheduleRetry();
  } finally {
    isProbing = false;
    probedAt = performance.now();
  }
}

function watchStream(): void {
  if (retryTimer !== null || isLoginNeeded.value) return;
  const now = performance.now();
  const silentMs = now - streamHeardAt;
  if (silentMs > SILENCE_MS_MOST) {
    lose('The live stream fell silent.');
    openStream();
    return;
  }
  const isDoubtful = silentMs > QUIET_MS && now - probedAt > PROBE_EVERY_MS;
  if (isDoubtful && link.value.state === 'live' && !isProbing) void probe();
}

function watch(): void {
  watchStream();
  const everyMs = link.value.state === 'live' ? RELOAD_EVERY_MS : RETRY_MOST_MS;
  if (isStreamOpen() && underWay.size === 0 && Date.now() - askedAt > everyMs) void loadPlant();
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
