/** From rows of the store (milliseconds, camel case) to the bodies that people get: actions and findings. */
import type { ActionBody, FindingBody } from './maintenance.js';
import { ACTIONS, type ActionKind, type BearingKind, type Breaks } from './maintenance-terms.js';
import { formatUtc } from './time.js';

interface EntryRow {
  readonly id: number;
  readonly motor: string;
  readonly at: number;
  readonly enteredAt: number;
  readonly by: string;
  readonly note: string;
  readonly withdrawn: { readonly at: number; readonly by: string; readonly note: string } | null;
}

export interface ActionRow extends EntryRow {
  readonly action: ActionKind;
  readonly end: string | null;
  readonly bearing: BearingKind | null;
  readonly breaks: Breaks;
}

export interface FindingRow extends EntryRow {
  readonly end: string;
  readonly removed: boolean;
  readonly modes: readonly FindingBody['modes'][number][];
  readonly signs: readonly FindingBody['signs'][number][];
  readonly lubricant: readonly FindingBody['lubricant'][number][];
}

function writeEntry({ id, motor, at, enteredAt, by, note, withdrawn }: EntryRow) {
  return {
    id,
    motor,
    at: formatUtc(at),
    entered_at: formatUtc(enteredAt),
    by,
    note,
    withdrawn: withdrawn === null ? null : { ...withdrawn, at: formatUtc(withdrawn.at) },
  };
}

export function writeAction(row: ActionRow): ActionBody {
  const { action, end, bearing, breaks } = row;
  return {
    ...writeEntry(row),
    ...{ action, end, bearing, breaks_comparability: breaks, is_remedy: ACTIONS[action].isRemedy },
  };
}

export function writeFinding(row: FindingRow): FindingBody {
  const { end, removed } = row;
  return {
    ...writeEntry(row),
    ...{ end, removed, modes: [...row.modes], signs: [...row.signs], lubricant: [...row.lubricant] },
  };
}
