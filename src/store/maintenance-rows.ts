/** The tables of what people enter about motors: their columns, and how they become rows again. */
import type { Finding, MaintenanceAction, Withdrawal } from '../core/maintenance-rows.js';
import type { Cells } from './statements.js';

const ENTRY_COLUMNS =
  'id, motor, at, entered_at, entered_by, note, withdrawn_at, withdrawn_by, withdrawn_note';
export const ACTION_COLUMNS = `${ENTRY_COLUMNS}, action, place, bearing, breaks` as const;
export const FINDING_COLUMNS = `${ENTRY_COLUMNS}, place, removed, modes, signs, lubricant` as const;

const ENTRY_CELLS = 9;

function toEntry(motor: string, cells: Cells) {
  const withdrawn: Withdrawal | null =
    cells[6] === null ? null : { at: cells[6] as number, by: cells[7] as string, note: cells[8] as string };
  return {
    id: cells[0] as number,
    motor,
    at: cells[2] as number,
    enteredAt: cells[3] as number,
    by: cells[4] as string,
    note: cells[5] as string,
    withdrawn,
  };
}

/** `cells`: as `ACTION_COLUMNS` names them. */
export function toAction(motor: string, cells: Cells): MaintenanceAction {
  const [action, end, bearing, breaks] = cells.slice(ENTRY_CELLS) as string[];
  return {
    ...toEntry(motor, cells),
    action: action as MaintenanceAction['action'],
    end: end ?? null,
    bearing: (bearing ?? null) as MaintenanceAction['bearing'],
    breaks: breaks as MaintenanceAction['breaks'],
  };
}

/** `cells`: as `FINDING_COLUMNS` names them. */
export function toFinding(motor: string, cells: Cells): Finding {
  const [end, removed, modes, signs, lubricant] = cells.slice(ENTRY_CELLS) as string[];
  return {
    ...toEntry(motor, cells),
    end: end!,
    removed: Number(removed) === 1,
    modes: JSON.parse(modes!) as Finding['modes'],
    signs: JSON.parse(signs!) as Finding['signs'],
    lubricant: JSON.parse(lubricant!) as Finding['lubricant'],
  };
}
