/**
 * An event of the live stream as it goes over the wire.
 * Source: the "Server-sent events" section of the HTML standard.
 */
import { LIVE_HEARTBEAT } from '../../shared/live-terms.js';
import { formatUtc, formatUtcOrNull } from '../../shared/time.js';
import { writeJournal, writeRate } from '../../shared/write-messages.js';
import type { Plan } from '../core/plan.js';
import type { DriveRow } from '../core/rows.js';
import { toAlarmBody, toTransientBody, veilPersons } from './body-maps.js';
import type { LiveEvent } from './deps.js';

export const LIVE_KINDS = [
  'rate',
  'alarm',
  'drive',
  'drive-presence',
  'transient',
  'journal',
  'again',
  LIVE_HEARTBEAT,
] as const;

/** Why lists are to be loaded again, and which; `everything` where nobody can say. */
export interface Again {
  readonly reason: 'restarted' | 'too-far-behind' | 'unknown-id';
  readonly load: readonly string[];
  readonly says: string;
}

export type ToldEvent = LiveEvent | { readonly kind: 'again'; readonly again: Again };

export function describeAgain(reason: Again['reason'], load: readonly string[]): Again {
  const why = {
    restarted: 'the gateway was started again since',
    'too-far-behind': 'more happened since than is kept in memory',
    'unknown-id': 'the id is none that this gateway gave',
  }[reason];
  return { reason, load, says: `${why}: load ${load.join(', ')} again` };
}

/** `id`: where a reader stands who has heard it. `isWall`: without who did what. */
export function writeEvent(event: ToldEvent, id: string, plan: Plan, isWall = false): string {
  const body =
    isWall && event.kind === 'alarm' ? veilPersons(toAlarmBody(event.alarm, plan)) : toEventBody(event, plan);
  return `id: ${id}\nevent: ${event.kind}\ndata: ${JSON.stringify(body)}\n\n`;
}

/** Tells that the stream is alive, and the gateway's time, ms. It has no id: nobody misses one. */
export function writeHeartbeat(now: number): string {
  return `event: ${LIVE_HEARTBEAT}\ndata: ${JSON.stringify({ now: formatUtc(now) })}\n\n`;
}

/** Moves a reader on without telling it anything: a browser takes the id, and no event is raised. */
export function writePlace(id: string): string {
  return `id: ${id}\n\n`;
}

function toEventBody(event: ToldEvent, plan: Plan): object {
  switch (event.kind) {
    case 'again':
      return event.again;
    case 'rate':
      return writeRate(event.rate);
    case 'alarm':
      return toAlarmBody(event.alarm, plan);
    case 'drive':
      return toDriveBody(event.drive);
    case 'drive-presence': {
      const { motor, online, at } = event.presence;
      return { motor, online, at: formatUtc(at) };
    }
    case 'transient':
      return toTransientBody(event.transient);
    case 'journal':
      return { ...writeJournal(event.entry), id: event.id };
  }
}

function toDriveBody({ motor, state, modulating, at, since }: DriveRow): object {
  return { motor, state, modulating, at: formatUtc(at), since: formatUtcOrNull(since) };
}
