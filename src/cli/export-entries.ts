/** Columns of what people entered about motors, as they are exported; documented in docs/export.md. New ones go to the end. */
import { formatUtc, formatUtcOrNull } from '../../shared/time.js';
import type { Finding, MaintenanceAction } from '../core/maintenance-rows.js';
import type { Column } from './table-text.js';

type Entry = MaintenanceAction | Finding;

const WHAT: readonly Column<Entry>[] = [
  { name: 'id', take: (row) => row.id },
  { name: 'motor', take: (row) => row.motor },
  { name: 'at', take: (row) => formatUtc(row.at) },
];

const WHO: readonly Column<Entry>[] = [
  { name: 'by', take: (row) => row.by },
  { name: 'note', take: (row) => row.note },
  { name: 'entered_at', take: (row) => formatUtc(row.enteredAt) },
  { name: 'withdrawn_at', take: (row) => formatUtcOrNull(row.withdrawn?.at ?? null) },
  { name: 'withdrawn_by', take: (row) => row.withdrawn?.by ?? null },
  { name: 'withdrawn_note', take: (row) => row.withdrawn?.note ?? null },
];

export const ACTION_COLUMNS: readonly Column<MaintenanceAction>[] = [
  ...WHAT,
  { name: 'action', take: (row) => row.action },
  { name: 'end', take: (row) => row.end },
  { name: 'bearing', take: (row) => row.bearing },
  ...WHO,
];

export const FINDING_COLUMNS: readonly Column<Finding>[] = [
  ...WHAT,
  { name: 'end', take: (row) => row.end },
  { name: 'removed', take: (row) => row.removed },
  { name: 'modes', take: (row) => JSON.stringify(row.modes) },
  { name: 'signs', take: (row) => JSON.stringify(row.signs) },
  { name: 'lubricant', take: (row) => JSON.stringify(row.lubricant) },
  ...WHO,
];
