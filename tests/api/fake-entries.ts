/** Entries about the one motor of the gateway in memory: an action that stands, a finding that is withdrawn. */
import type { BearingLife, EntryAnswer, EntryWish } from '../../src/api/deps.js';
import type { Finding, MaintenanceAction } from '../../src/core/maintenance-rows.js';

export const NOW = Date.UTC(2026, 2, 2, 6, 0, 0);

const entry = { motor: 'pump-1', at: NOW - 3_600_000, enteredAt: NOW, by: 'J. Field', note: '' };

export const done: MaintenanceAction = {
  ...{ ...entry, id: 1, withdrawn: null },
  ...{ action: 'bearing-replaced', end: 'de', bearing: 'hybrid', breaks: 'motor' },
};

export const found: Finding = {
  ...{ ...entry, id: 2, withdrawn: { at: NOW, by: 'K. Desk', note: 'of another motor' } },
  ...{ end: 'de', removed: true, modes: ['electrical-erosion'], signs: ['frosting'], lubricant: ['burnt'] },
};

/** Takes what is of pump-1 and in the past; entry 1 can be withdrawn, entry 2 has been. */
export function maintain(log: EntryWish[], wish: EntryWish): EntryAnswer {
  log.push(wish);
  if (wish.motor !== 'pump-1') return { ok: false, reason: 'unknown-motor' };
  if (wish.do === 'withdraw') {
    const row = [done, found].find(({ id }) => id === wish.id);
    if (row === undefined) return { ok: false, reason: 'no-such-entry' };
    if (row.withdrawn !== null) return { ok: false, reason: 'withdrawn-already' };
    return { ok: true, row: { ...row, withdrawn: { at: NOW, by: wish.by, note: wish.note } } };
  }
  if (wish.entry.end === 'roof') return { ok: false, reason: 'unknown-place' };
  if ((wish.entry.at ?? NOW) > NOW) return { ok: false, reason: 'in-the-future' };
  return { ok: true, row: wish.do === 'enter-action' ? done : found };
}

export const life: BearingLife = {
  ...{ fittedAt: done.at, replacement: done, removedAt: null, actions: [done], findings: [] },
  counted: { from: NOW - 3_600_000, to: NOW },
  ...{ runningMs: 1_800_000, runningPulses: 900, transientPulses: 41 },
};
