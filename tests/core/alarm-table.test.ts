/**
 * Every input in every state that an alarm can come to, against rules that are written here in words of their own: a second
 * look at the table, not a copy of it.
 */
import { describe, expect, it } from 'vitest';
import type { AlarmInput } from '../../src/core/alarm-inputs.js';
import { REFUSALS } from '../../src/core/alarm-refusals.js';
import type { AlarmRecord } from '../../src/core/alarm-rows.js';
import { moveAlarm } from '../../src/core/alarm-table.js';
import { HOUR_MS, INPUTS, NOW, quietAlarm, tryEverything, type Tried } from '../support/alarm-states.js';

type Field = keyof AlarmRecord;

const alarm = tryEverything('rate-high');
const notice = tryEverything('silent-in-company');
const all = [...alarm.tried, ...notice.tried];

/** Those that were taken, with the record after. */
function taken(
  tried: readonly Tried[],
): { before: AlarmRecord; input: AlarmInput; after: AlarmRecord; isTold: boolean }[] {
  return tried.flatMap(({ before, input, move }) =>
    move.refusal === null ? [{ before, input, after: move.after, isTold: move.isTold }] : [],
  );
}

/** The first that breaks a rule; null: none does. */
function findBreach<T>(items: readonly T[], holds: (item: T) => boolean): T | null {
  return items.find((item) => !holds(item)) ?? null;
}

const changed = (before: AlarmRecord, after: AlarmRecord): Field[] =>
  (Object.keys(after) as Field[]).filter((field) => before[field] !== after[field]);

const isCovered = (r: AlarmRecord): boolean =>
  r.outOfService || r.shelvedUntil !== null || r.suppressedBy !== null || r.groupedUnder !== null;

it('all that can be reached is looked at', () => {
  // covers: 4 shelves (none, two ends, for one return), out of service, suppressed, grouped, held or not
  const covers = 4 * 2 * 2 * 2 * 2;
  // never raised; or active or not, latched or not, told or not, and unacknowledged, acknowledged or confirmed too
  const inner = 1 + 2 * 2 * 2 * 3;
  // but one that latches, stands unacknowledged and is not covered was told, held or not
  expect(alarm.records).toHaveLength(inner * covers - 2);
  // a notice: never raised; or active or not, latched or not
  expect(notice.records).toHaveLength((1 + 2 * 2) * covers);
  expect(alarm.tried).toHaveLength(alarm.records.length * INPUTS.length);
  const states = new Set(alarm.records.map(({ state }) => state));
  expect([...states].sort()).toEqual([
    ...['acknowledged', 'latched-acknowledged', 'latched-unacknowledged', 'normal', 'out-of-service'],
    ...['returned-unacknowledged', 'shelved', 'suppressed-by-design', 'unacknowledged'],
  ]);
});

describe('whatever the state and the input', () => {
  it('what is refused has a sentence and a hint, what is taken changes something', () => {
    for (const { move } of all) if (move.refusal !== null) expect(REFUSALS[move.refusal]).toHaveLength(2);
    // but a shelf may be renewed as it is
    const others = taken(all).filter(({ input }) => input.kind !== 'shelve');
    expect(findBreach(others, ({ before, after }) => changed(before, after).length > 0)).toBeNull();
  });

  it('the state shown is what lies on top', () => {
    const names = (r: AlarmRecord): string => {
      const hidden = [
        [r.suppressedBy !== null, 'suppressed-by-design'],
        [r.shelvedUntil !== null, 'shelved'],
        [r.outOfService, 'out-of-service'],
      ].filter(([is]) => is);
      if (hidden.length > 0) return hidden.at(-1)![1] as string;
      const latch = r.latched && !r.active ? 'latched-' : '';
      const condition = r.active || latch !== '' ? '' : 'returned-';
      const answered = r.acknowledged ? 'acknowledged' : 'unacknowledged';
      const said = `${latch}${condition}${answered}`;
      return said === 'returned-acknowledged' ? 'normal' : said;
    };
    expect(findBreach([...alarm.records, ...notice.records], (r) => r.state === names(r))).toBeNull();
  });

  it('each input touches its own fields and no others', () => {
    const shown: Field[] = ['state', 'annunciatedAt'];
    const shelf: Field[] = ['shelvedUntil', 'shelvedOnce', 'shelvedBy', 'shelvedWhy'];
    const service: Field[] = ['outOfService', 'outOfServiceBy', 'outOfServiceWhy'];
    const touches: Record<AlarmInput['kind'], Field[]> = {
      raise: [
        ...(['active', 'since', 'evidence', 'latched', 'acknowledged', 'acknowledgedBy'] as const),
        ...(['confirmed', 'confirmedBy', 'note'] as const),
      ],
      return: ['active', 'since', 'evidence'],
      acknowledge: ['acknowledged', 'acknowledgedBy', 'note'],
      confirm: ['confirmed', 'confirmedBy', 'note'],
      reset: ['latched', 'note'],
      shelve: [...shelf, 'note'],
      unshelve: [...shelf, 'note'],
      expire: shelf,
      'take-out-of-service': [...service, 'note'],
      'return-to-service': [...service, 'note'],
      suppress: ['suppressedBy'],
      unsuppress: ['suppressedBy'],
      hold: ['heldBy'],
      unhold: ['heldBy'],
      group: ['groupedUnder'],
      ungroup: ['groupedUnder'],
    };
    const breach = findBreach(taken(all), ({ before, input, after }) =>
      changed(before, after).every((field) => [...touches[input.kind], ...shown].includes(field)),
    );
    expect(breach).toBeNull();
  });

  it('what goes on underneath is what would have gone on without a cover', () => {
    const bare = (r: AlarmRecord): AlarmRecord => {
      const { shelvedUntil, shelvedOnce, shelvedBy, shelvedWhy, outOfService, outOfServiceBy } =
        quietAlarm('x');
      const covers = { shelvedUntil, shelvedOnce, shelvedBy, shelvedWhy, outOfService, outOfServiceBy };
      const more = { outOfServiceWhy: '', suppressedBy: null, groupedUnder: null, heldBy: null };
      return { ...r, ...covers, ...more, annunciatedAt: null, state: 'normal' };
    };
    const inner = ['raise', 'return', 'acknowledge', 'confirm', 'reset'];
    const breach = findBreach(
      all.filter(({ input }) => inner.includes(input.kind)),
      ({ before, input, move }) => {
        const twin = moveAlarm(bare(before), input, NOW);
        if (move.refusal !== null || twin.refusal !== null) return move.refusal === twin.refusal;
        return JSON.stringify(bare(move.after)) === JSON.stringify(bare(twin.after));
      },
    );
    expect(breach).toBeNull();
  });
});

describe('the operator', () => {
  it('is told of an activation once, and never of what is covered, or of a notice', () => {
    const breach = findBreach(taken(all), ({ before, input, after, isTold }) => {
      if (input.kind === 'return') return true;
      if (!isTold) return after.annunciatedAt === null || before.annunciatedAt !== null;
      const isNew = input.kind === 'raise' || before.annunciatedAt === null;
      const calls = after.active && !after.acknowledged && !isCovered(after);
      return isNew && calls && after.annunciatedAt === NOW && after.kind !== 'silent-in-company';
    });
    expect(breach).toBeNull();
  });

  it('knows of everything that calls and that nothing covers, at the latest with the next change', () => {
    const breach = findBreach(taken(alarm.tried), ({ input, after }) => {
      const isOver = input.kind === 'raise' && input.over === true;
      return (
        isOver || !(after.active && !after.acknowledged && !isCovered(after)) || after.annunciatedAt !== null
      );
    });
    expect(breach).toBeNull();
  });

  it('is told of a return only where the activation was told and nothing covers it', () => {
    const returns = taken(all).filter(({ input }) => input.kind === 'return');
    const breach = findBreach(
      returns,
      ({ before, isTold }) => isTold === (before.annunciatedAt !== null && !isCovered(before)),
    );
    expect([returns.length > 0, breach]).toEqual([true, null]);
  });

  it('is not told again of what was told before it was covered', () => {
    const breach = findBreach(
      taken(all),
      ({ before, input, after }) =>
        input.kind === 'raise' ||
        before.annunciatedAt === null ||
        after.annunciatedAt === before.annunciatedAt,
    );
    expect(breach).toBeNull();
  });
});

describe('acts', () => {
  it('confirming comes after acknowledging: nothing is confirmed that is not acknowledged', () => {
    expect(findBreach(alarm.records, (r) => r.acknowledged || !r.confirmed)).toBeNull();
  });

  it('a new activation asks anew for both', () => {
    const raised = taken(alarm.tried).filter(({ input }) => input.kind === 'raise');
    const isAsked = ({ after: r }: { after: AlarmRecord }): boolean =>
      !r.acknowledged && !r.confirmed && r.acknowledgedBy === '' && r.confirmedBy === '';
    expect([raised.length > 0, findBreach(raised, isAsked)]).toEqual([true, null]);
  });

  it('a notice asks for nothing', () => {
    expect(findBreach(notice.records, (r) => r.acknowledged && r.confirmed)).toBeNull();
    const asked = notice.tried.filter(({ input }) => ['acknowledge', 'confirm'].includes(input.kind));
    expect(new Set(asked.map(({ move }) => move.refusal))).toEqual(new Set(['notice']));
  });

  it('reset takes the latch off what has returned and was acknowledged, and nothing else', () => {
    const resets = taken(all).filter(({ input }) => input.kind === 'reset');
    const breach = findBreach(
      resets,
      ({ before: b, after: a }) => b.latched && !b.active && b.acknowledged && !a.latched,
    );
    expect([resets.length > 0, breach]).toEqual([true, null]);
    const lost = findBreach(
      taken(all),
      ({ before: b, input, after: a }) => !b.latched || a.latched || ['reset', 'raise'].includes(input.kind),
    );
    expect(lost).toBeNull();
  });

  it('a shelf ends ahead of now and within what the configuration allows', () => {
    const breach = findBreach(
      [...alarm.records, ...notice.records],
      ({ shelvedUntil }) =>
        shelvedUntil === null || (shelvedUntil > NOW && shelvedUntil <= NOW + 24 * HOUR_MS),
    );
    expect(breach).toBeNull();
    const refused = alarm.tried
      .filter(({ input }) => input.kind === 'shelve')
      .map(({ move }) => move.refusal);
    expect(new Set(refused)).toEqual(new Set([null, 'until-past', 'until-too-far']));
  });

  it('a shelf for one return is followed by its end, and only that', () => {
    const breach = findBreach(all, ({ before, input, move }) => {
      const next = move.refusal === null ? move.next : null;
      const ends = input.kind === 'return' && before.active && before.shelvedOnce;
      return ends ? next?.kind === 'expire' && next.at === input.at : next === null;
    });
    expect(breach).toBeNull();
  });

  it('who and why stand exactly as long as what they are about', () => {
    const breach = findBreach(
      [...alarm.records, ...notice.records],
      (r) =>
        (r.shelvedUntil !== null) === (r.shelvedBy !== '') &&
        (r.shelvedUntil !== null) === (r.shelvedWhy !== '') &&
        (r.shelvedUntil !== null || !r.shelvedOnce) &&
        r.outOfService === (r.outOfServiceBy !== '') &&
        r.outOfService === (r.outOfServiceWhy !== ''),
    );
    expect(breach).toBeNull();
  });
});
