/**
 * The table of an alarm's transitions: for each input when it is refused, what it changes, and its word in the journal.
 * Pure; the record given is left as it is.
 * Why so few rules: condition, acknowledgement, confirmation and the three ways of hiding are independent of one another,
 * so that what goes on under a shelf is what would have gone on without it. Whether the operator is told follows from the
 * record alone: an activation that stands, is visible, speaks for itself and was not told yet is told with the change that
 * made it so.
 * Source: IEC 62682 / ISA-18.2 for the states, shelving, suppression and out of service; OPC 10000-9 for confirm as an act
 * of its own after acknowledge, and for one-shot shelving. Which transitions are refused is our choice within them.
 */
import type { JournalChange } from '../../shared/alarm-terms.js';
import type { AlarmInput, InputKind } from './alarm-inputs.js';
import { isNotice } from './alarm-kinds.js';
import type { AlarmRefusal } from './alarm-refusals.js';
import type { AlarmRecord, AlarmState } from './alarm-rows.js';

/** The state shown. Out of service hides shelved, which hides suppressed; what happens underneath goes on. */
export function deriveState(record: AlarmRecord): AlarmState {
  if (record.outOfService) return 'out-of-service';
  if (record.shelvedUntil !== null) return 'shelved';
  if (record.suppressedBy !== null) return 'suppressed-by-design';
  if (record.active) return record.acknowledged ? 'acknowledged' : 'unacknowledged';
  if (record.latched) return record.acknowledged ? 'latched-acknowledged' : 'latched-unacknowledged';
  return record.acknowledged ? 'normal' : 'returned-unacknowledged';
}

/** Nobody is told of it, whatever it does. */
export function isHidden(record: AlarmRecord): boolean {
  return record.outOfService || record.shelvedUntil !== null || record.suppressedBy !== null;
}

/** Whether the operator sees this activation by itself: neither hidden nor spoken for by another alarm. */
export function isVisible(record: AlarmRecord): boolean {
  return !isHidden(record) && record.groupedUnder === null && !isNotice(record.kind);
}

const NO_SHELF = { shelvedUntil: null, shelvedOnce: false, shelvedBy: '', shelvedWhy: '' } as const;
const IN_SERVICE = { outOfService: false, outOfServiceBy: '', outOfServiceWhy: '' } as const;

type InputOf<K extends InputKind> = Extract<AlarmInput, { kind: K }>;

interface Row<K extends InputKind> {
  /** '' : it has no entry in the journal */
  readonly what: JournalChange;
  /** null: it applies */
  refuse(record: AlarmRecord, input: InputOf<K>): AlarmRefusal | null;
  change(record: AlarmRecord, input: InputOf<K>): Partial<AlarmRecord>;
}

const TABLE: { readonly [K in InputKind]: Row<K> } = {
  raise: {
    what: 'raised',
    refuse: ({ active }) => (active ? 'active-already' : null),
    change: ({ kind }, { at, evidence, latching }) => ({
      ...{ active: true, since: at, evidence, latched: latching, annunciatedAt: null, note: '' },
      ...{ acknowledged: isNotice(kind), acknowledgedBy: '', confirmed: isNotice(kind), confirmedBy: '' },
    }),
  },
  return: {
    what: 'returned',
    refuse: ({ active }) => (active ? null : 'not-active'),
    change: (_, { at, evidence }) => ({ active: false, since: at, evidence }),
  },
  acknowledge: {
    what: 'acknowledged',
    refuse: ({ kind, acknowledged }) =>
      isNotice(kind) ? 'notice' : acknowledged ? 'nothing-to-acknowledge' : null,
    change: (_, { who, note }) => ({ acknowledged: true, acknowledgedBy: who, note }),
  },
  confirm: {
    what: 'confirmed',
    refuse: ({ kind, confirmed, acknowledged }) => {
      if (isNotice(kind)) return 'notice';
      if (confirmed) return 'nothing-to-confirm';
      return acknowledged ? null : 'acknowledge-first';
    },
    change: (_, { who, note }) => ({ confirmed: true, confirmedBy: who, note }),
  },
  reset: {
    what: 'reset',
    refuse: ({ active, latched, acknowledged }) => {
      if (!latched) return 'not-latched';
      if (active) return 'still-active';
      return acknowledged ? null : 'acknowledge-first';
    },
    change: (_, { note }) => ({ latched: false, note }),
  },
  shelve: {
    what: 'shelved',
    refuse: (_, { at, until, latest }) =>
      until <= at ? 'until-past' : until > latest ? 'until-too-far' : null,
    change: (_, { until, once, who, note }) => ({
      ...{ shelvedUntil: until, shelvedOnce: once, shelvedBy: who, shelvedWhy: note, note },
    }),
  },
  unshelve: {
    what: 'unshelved',
    refuse: ({ shelvedUntil }) => (shelvedUntil === null ? 'not-shelved' : null),
    change: (_, { note }) => ({ ...NO_SHELF, note }),
  },
  expire: {
    what: 'shelf-expired',
    refuse: ({ shelvedUntil }) => (shelvedUntil === null ? 'not-shelved' : null),
    change: () => NO_SHELF,
  },
  'take-out-of-service': {
    what: 'taken-out-of-service',
    refuse: ({ outOfService }) => (outOfService ? 'out-of-service-already' : null),
    change: (_, { who, note }) => ({
      ...{ outOfService: true, outOfServiceBy: who, outOfServiceWhy: note, note },
    }),
  },
  'return-to-service': {
    what: 'returned-to-service',
    refuse: ({ outOfService }) => (outOfService ? null : 'in-service-already'),
    change: (_, { note }) => ({ ...IN_SERVICE, note }),
  },
  suppress: {
    what: 'suppressed',
    refuse: ({ suppressedBy }, { rule }) => (suppressedBy === rule ? 'suppressed-already' : null),
    change: (_, { rule }) => ({ suppressedBy: rule }),
  },
  unsuppress: {
    what: 'unsuppressed',
    refuse: ({ suppressedBy }) => (suppressedBy === null ? 'not-suppressed' : null),
    change: () => ({ suppressedBy: null }),
  },
  hold: {
    what: '',
    refuse: ({ heldBy }, { by }) => (heldBy === by ? 'held-already' : null),
    change: (_, { by }) => ({ heldBy: by }),
  },
  unhold: {
    what: '',
    refuse: ({ heldBy }) => (heldBy === null ? 'not-held' : null),
    change: () => ({ heldBy: null }),
  },
  group: {
    what: 'grouped',
    refuse: ({ groupedUnder }, { under }) => (groupedUnder === under ? 'grouped-already' : null),
    change: (_, { under }) => ({ groupedUnder: under }),
  },
  ungroup: {
    what: 'ungrouped',
    refuse: ({ groupedUnder }) => (groupedUnder === null ? 'not-grouped' : null),
    change: () => ({ groupedUnder: null }),
  },
};

export type Move =
  | { readonly refusal: AlarmRefusal }
  | {
      readonly refusal: null;
      readonly after: AlarmRecord;
      readonly what: JournalChange;
      /** whether the operator is told with this change: of an activation, or of the return of one that was told */
      readonly isTold: boolean;
      /** what happens next at once; null: nothing */
      readonly next: AlarmInput | null;
    };

/** Applies one input to a record. `now`: when it became known, ms; the activation that is told is told then. */
export function moveAlarm(record: AlarmRecord, input: AlarmInput, now: number): Move {
  const row = TABLE[input.kind] as Row<InputKind>;
  const refusal = row.refuse(record, input);
  if (refusal !== null) return { refusal };
  const after: AlarmRecord = { ...record, ...row.change(record, input) };
  const isOver = input.kind === 'raise' && input.over === true;
  const calls = after.active && !after.acknowledged && after.annunciatedAt === null && isVisible(after);
  const isAnnounced = calls && !isOver;
  if (isAnnounced) after.annunciatedAt = now;
  after.state = deriveState(after);
  const isReturnTold = input.kind === 'return' && record.annunciatedAt !== null && isVisible(record);
  const endsShelf = input.kind === 'return' && after.shelvedUntil !== null && after.shelvedOnce;
  return {
    refusal: null,
    after,
    what: row.what,
    isTold: isAnnounced || isReturnTold,
    next: endsShelf ? { kind: 'expire', at: input.at } : null,
  };
}
