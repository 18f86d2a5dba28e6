/** What became durable with a commit, as the events that live readers get, in their order. */
import type { LiveEvent } from './api/deps.js';
import type { Told } from './engine/protocol.js';

export function listEvents(told: Told): LiveEvent[] {
  return [
    ...told.rates.map((rate) => ({ kind: 'rate' as const, rate })),
    ...told.alarms.map((alarm) => ({ kind: 'alarm' as const, alarm })),
    ...told.drives.map((drive) => ({ kind: 'drive' as const, drive })),
    ...told.presences.map((presence) => ({ kind: 'drive-presence' as const, presence })),
    ...told.transients.map((transient) => ({ kind: 'transient' as const, transient })),
    ...told.journal.map((entry, i) => ({
      ...{ kind: 'journal' as const, entry, id: told.journalIds[i] ?? null },
    })),
  ];
}
