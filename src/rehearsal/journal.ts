/** What the journal really says: activations as they were, who answered them, and which configuration was in force when. */
import type { AlarmEntry, HistoryReader } from '../store/read-history.js';
import { ActivationLog, newActivation } from './activation.js';

/** From a time on a configuration was in force; in order. */
export interface InForce {
  readonly at: number;
  readonly revision: string;
}

export interface Recorded {
  readonly log: ActivationLog;
  readonly inForce: readonly InForce[];
}

const STANDING = new Set(['unacknowledged', 'acknowledged']);

/** Entries of older programs have no word of their own: a transition of the gateway carries evidence, and its state tells. */
export function changeOf({ kind, what, from, to, hasEvidence }: AlarmEntry): string {
  if (what !== '') return what;
  if (kind === 'operator') return isOpen(from) && !isOpen(to) ? 'acknowledged' : '';
  if (!hasEvidence) return '';
  return STANDING.has(to) ? 'raised' : 'returned';
}

function isOpen(state: string): boolean {
  return state.endsWith('unacknowledged');
}

/** Reads what was journalled about these alarms. */
export function readRecorded(history: HistoryReader, alarms: ReadonlySet<string>, from: number): Recorded {
  const log = new ActivationLog();
  const inForce: InForce[] = [];
  for (const entries of history.journal(from, null)) {
    for (const entry of entries) {
      const { configuration: revision, detectedAt: at } = entry;
      if (revision !== '' && inForce.at(-1)?.revision !== revision) inForce.push({ at, revision });
      if (alarms.has(entry.subject)) takeEntry(log, entry);
    }
  }
  return { log, inForce };
}

function takeEntry(log: ActivationLog, entry: AlarmEntry): void {
  const { subject, at, who, detectedAt, configuration } = entry;
  switch (changeOf(entry)) {
    case 'raised':
      log.raise(newActivation(subject, at, detectedAt, configuration));
      return;
    case 'returned':
      log.giveBack(subject, at);
      return;
    case 'acknowledged':
    case 'confirmed': {
      const last = log.last(subject);
      if (last === undefined || who === '') return;
      if (changeOf(entry) === 'confirmed') last.confirmedBy = who;
      else last.acknowledgedBy = who;
      last.answeredAt = at;
      return;
    }
  }
}

/** Revision in force at a time; '' where nothing says. */
export function revisionAt(inForce: readonly InForce[], at: number): string {
  let found = '';
  for (const one of inForce) {
    if (one.at > at) break;
    found = one.revision;
  }
  return found;
}
