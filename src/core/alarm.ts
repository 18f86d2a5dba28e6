/** The alarm's record: how it begins, and how a transition of it is stored and entered in the journal. */
import { isAct, type AlarmInput } from './alarm-inputs.js';
import { isNotice } from './alarm-kinds.js';
import type { AlarmRefusal } from './alarm-refusals.js';
import type { AlarmRecord, Evidence } from './alarm-rows.js';
import { isVisible, moveAlarm } from './alarm-table.js';
import { entryOf } from './journal.js';
import type { CoreState } from './state.js';

/** Of an alarm that was never raised and that nobody has touched. */
const QUIET = {
  active: false,
  acknowledged: true,
  latched: false,
  acknowledgedBy: '',
  note: '',
  confirmed: true,
  confirmedBy: '',
  shelvedUntil: null,
  shelvedOnce: false,
  shelvedBy: '',
  shelvedWhy: '',
  suppressedBy: null,
  outOfService: false,
  outOfServiceBy: '',
  outOfServiceWhy: '',
  heldBy: null,
  groupedUnder: null,
  annunciatedAt: null,
  state: 'normal',
  since: null,
  onMs: 0,
  offMs: 0,
  returnFrom: null,
  returnPulses: 0,
  returnMs: 0,
  evidence: null,
} as const satisfies Partial<AlarmRecord>;

export function newAlarm(plan: {
  id: string;
  motor: string;
  alarm: string;
  sensor: string | null;
  kind: string;
  priority: AlarmRecord['priority'];
}): AlarmRecord {
  return {
    ...QUIET,
    id: plan.id,
    motor: plan.motor,
    alarm: plan.alarm,
    sensor: plan.sensor,
    kind: plan.kind,
    priority: plan.priority,
  };
}

/** A record that an older program wrote, with what it did not know yet: it told every activation at once. */
export function completeAlarm(kept: Partial<AlarmRecord> & Parameters<typeof newAlarm>[0]): AlarmRecord {
  const asks = !isNotice(kept.kind) && (kept.active === true || kept.acknowledged === false);
  const toldAt = asks && kept.active === true ? (kept.since ?? null) : null;
  return { ...QUIET, confirmed: !asks, annunciatedAt: toldAt, ...kept };
}

/** The alarm's record, made when there is none yet. */
export function alarmOf(state: CoreState, plan: Parameters<typeof newAlarm>[0]): AlarmRecord {
  let record = state.alarms.get(plan.id);
  if (record === undefined) {
    record = newAlarm(plan);
    state.alarms.set(plan.id, record);
  }
  return record;
}

/**
 * Moves an alarm, puts it out and journals it, with what follows at once. Null: it moved; else why it did not, and nothing
 * has changed then. `says`: of a person's act, for the journal; absent: the note.
 */
export function transition(
  state: CoreState,
  record: AlarmRecord,
  input: AlarmInput,
  says?: string,
): AlarmRefusal | null {
  const now = Math.max(state.now, input.at, input.kind === 'expire' ? (input.knownAt ?? 0) : 0);
  const before = { ...record };
  const move = moveAlarm(record, input, now);
  if (move.refusal !== null) return move.refusal;
  const { after, what, isTold, next } = move;
  Object.assign(record, after);
  state.out.alarms.push(record);
  if (what !== '') {
    const byPerson = isAct(input);
    const parts = {
      at: input.at,
      detectedAt: now,
      kind: byPerson
        ? ('operator' as const)
        : isNotice(record.kind)
          ? ('notice' as const)
          : ('alarm' as const),
      subject: record.id,
      from: before.state,
      to: record.state,
      who: byPerson ? input.who : '',
      text: sayInput(input, before, record, isTold, says),
      what,
      annunciated: isTold,
      evidence: evidenceOf(input, record, isTold),
    };
    state.out.journal.push(entryOf(parts, state.plan.revision));
  }
  if (next !== null) transition(state, record, next);
  return null;
}

/** What a person did needs no evidence, unless it brought to light what is told now. */
function evidenceOf(input: AlarmInput, record: AlarmRecord, isTold: boolean): Evidence | null {
  if (input.kind === 'raise' || input.kind === 'return') return input.evidence;
  return isTold ? record.evidence : null;
}

function sayInput(
  input: AlarmInput,
  before: AlarmRecord,
  after: AlarmRecord,
  isTold: boolean,
  says: string | undefined,
): string {
  const since = sayHidden(before, after, isTold);
  switch (input.kind) {
    case 'raise':
    case 'return':
      return input.evidence.says;
    case 'expire':
      return `${input.at < (before.shelvedUntil ?? 0) ? 'the shelf was for one return' : 'the shelf has ended'}${since}`;
    case 'suppress':
      return input.rule;
    case 'unsuppress':
      return `no longer suppressed by design${since}`;
    case 'group':
      return `${input.under} stands for it`;
    case 'ungroup':
      return `no other alarm stands for it any more${since}`;
    case 'hold':
    case 'unhold':
      return '';
    case 'acknowledge':
    case 'confirm':
    case 'reset':
    case 'shelve':
    case 'unshelve':
    case 'take-out-of-service':
    case 'return-to-service':
      return `${says ?? input.note}${since}`.replace(/^; /, '');
  }
}

/** What came to light with this change, if anything. */
function sayHidden(before: AlarmRecord, after: AlarmRecord, isTold: boolean): string {
  if (isTold) return `; raised meanwhile, it still stands: ${after.evidence?.says ?? ''}`;
  const wasMissed = !after.active && !after.acknowledged && after.annunciatedAt === null;
  return !isVisible(before) && isVisible(after) && wasMissed
    ? '; it was raised meanwhile and has returned'
    : '';
}
