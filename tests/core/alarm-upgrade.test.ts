/** Records of alarms that a program before this one wrote, which told everything at once and knew neither shelf nor confirm. */
import { describe, expect, it } from 'vitest';
import { completeAlarm } from '../../src/core/alarm.js';
import { moveAlarm } from '../../src/core/alarm-table.js';
import { NOW } from '../support/alarm-states.js';

const OLD = {
  ...{ id: 'pump.de-rate-high', motor: 'pump', alarm: 'de-rate-high', sensor: 'pump/de', kind: 'rate-high' },
  ...({ priority: 'low', latched: false, since: NOW - 1000, onMs: 0, offMs: 0, returnFrom: null } as const),
};

describe('an old record', () => {
  it.each([
    [{ active: true, acknowledged: false, state: 'unacknowledged' }, false, NOW - 1000],
    [{ active: true, acknowledged: true, state: 'acknowledged' }, false, NOW - 1000],
    [{ active: false, acknowledged: false, state: 'returned-unacknowledged' }, false, null],
    [{ active: false, acknowledged: true, state: 'normal' }, true, null],
  ] as const)('%j asks for what it would ask for today, and was told', (old, confirmed, annunciatedAt) => {
    expect(completeAlarm({ ...OLD, ...old })).toMatchObject({
      ...old,
      confirmed,
      annunciatedAt,
      shelvedUntil: null,
    });
  });

  it('that stands is not told again when it comes out of a shelf', () => {
    const old = completeAlarm({ ...OLD, active: true, acknowledged: false, state: 'unacknowledged' });
    const by = { at: NOW, who: 'M. Reed', note: 'why' };
    const shelved = moveAlarm(
      old,
      { kind: 'shelve', ...by, until: NOW + 1, once: false, latest: NOW + 1 },
      NOW,
    );
    if (shelved.refusal !== null) throw new Error(shelved.refusal);
    const back = moveAlarm(shelved.after, { kind: 'expire', at: NOW + 1 }, NOW + 1);
    expect(back).toMatchObject({ refusal: null, isTold: false, after: { state: 'unacknowledged' } });
  });

  it('of a notice asks for nothing', () => {
    const old = {
      ...OLD,
      kind: 'silent-in-company',
      active: true,
      acknowledged: true,
      state: 'acknowledged',
    } as const;
    expect(completeAlarm(old)).toMatchObject({ confirmed: true, annunciatedAt: null });
  });
});
