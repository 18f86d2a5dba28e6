/** What the operator is told and what stays in sight while alarms come and go, without a browser. */
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { placeCards, type HeldAlarm } from '../../src/page/acts/held-alarms.js';
import { sayMeanwhile } from '../../src/page/acts/meanwhile.js';
import { fitsFilter, readFilter } from '../../src/page/alarms/alarm-filter.js';
import type { AlarmBody } from '../../src/page/data/bodies.js';
import { checkSession, keepSession } from '../../src/page/data/session-check.js';
import {
  isLoginNeeded,
  isWall,
  lastLogin,
  login,
  loginTurn,
  takeSession,
} from '../../src/page/data/session.js';
import { isShown } from '../../src/page/parts/alarm-words.js';
import { sayArrivals } from '../../src/page/shell/arrivals.js';
import { titleOf } from '../../src/page/shell/window-title.js';

const waits: AlarmBody = {
  ...{ id: 'booster-4.de-rate-high', motor: 'booster-4', alarm: 'de-rate-high', sensor: 'booster-4/de' },
  ...{ kind: 'rate-high', priority: 'high', state: 'unacknowledged', active: true, acknowledged: false },
  ...{ confirmed: false, latched: false, shelved_until: null, shelved_once: false, shelved_by: '' },
  ...{ shelved_why: '', suppressed_by: null, out_of_service: false, out_of_service_by: '' },
  ...{ out_of_service_why: '', held_by: null, grouped_under: null, annunciated_at: null },
  ...{ since: '2026-03-02T06:10:00.000Z', acknowledged_by: '', confirmed_by: '', note: '' },
  ...{ consequence: '', action: '', rationale: '', class: '', time_to_respond_ms: null, evidence: null },
};
const byWren: AlarmBody = {
  ...waits,
  ...{ state: 'acknowledged', acknowledged: true, acknowledged_by: 'K. Wren' },
};
const low: AlarmBody = { ...waits, id: 'fan-1.de-no-readings', motor: 'fan-1', priority: 'low' };
const open = (...alarms: AlarmBody[]): Map<string, AlarmBody> =>
  new Map(alarms.map((each) => [each.id, each]));
const idsOf = (alarms: readonly AlarmBody[]): string[] => alarms.map(({ id }) => id);

describe('an alarm that somebody writes about', () => {
  const held = new Map<string, HeldAlarm>([[waits.id, { placed: waits, latest: byWren }]]);

  it('keeps its place when another one answers it, and shows how it stands', () => {
    const { waiting, answered } = placeCards(open(low, byWren), held, isShown);
    expect(idsOf(waiting)).toEqual([waits.id, low.id]);
    expect(waiting[0]!.state).toBe('acknowledged');
    expect(answered).toEqual([]);
    // nobody writes any more: it goes where it belongs
    const after = placeCards(open(low, byWren), new Map(), isShown);
    expect([idsOf(after.waiting), idsOf(after.answered)]).toEqual([[low.id], [waits.id]]);
  });

  it('stays when it is normal and known no longer, whether or not the stream told it', () => {
    const { waiting } = placeCards(open(low), held, isShown);
    expect(waiting[0]).toMatchObject({ id: waits.id, state: 'normal', active: false });
  });

  it('says who was there first, and what stands in the way', () => {
    expect(sayMeanwhile('acknowledge', waits, 'R. Siskin')).toBeNull();
    expect(sayMeanwhile('shelve', byWren, 'R. Siskin')).toBeNull();
    expect(sayMeanwhile('acknowledge', byWren, 'R. Siskin')).toBe(
      'Meanwhile it was acknowledged by K. Wren.',
    );
    expect(sayMeanwhile('acknowledge', byWren, 'K. Wren')).toBe('Meanwhile it was acknowledged by you.');
    const normal: AlarmBody = { ...waits, state: 'normal', active: false, acknowledged: true };
    expect(sayMeanwhile('acknowledge', normal, '')).toContain('is now normal');
    expect(sayMeanwhile('shelve', normal, '')).toContain('is now normal');
  });
});

describe('what has come', () => {
  it('is said by name, and only what is new', () => {
    expect(sayArrivals(new Set([waits.id]), [waits])).toBeNull();
    expect(sayArrivals(new Set([low.id]), [waits, low])).toBe(
      'One alarm has come. High: Rate high, booster-4, drive end. Needs an answer: 2.',
    );
  });

  it('is counted when it is more than anybody listens to', () => {
    const flood = Array.from({ length: 50 }, (_, at) => ({ ...low, id: `fan-${at}.x` }));
    const says = sayArrivals(new Set(), flood)!;
    expect(says).toMatch(/^50 alarms have come\..* and 47 more\. Needs an answer: 50\.$/);
    expect(says.length).toBeLessThan(250);
  });

  it('stands in the title of the window, which counts nothing that it does not know', () => {
    const facts = { view: 'Now', site: 'tarn-hollow', waiting: 3 };
    expect(titleOf({ ...facts, state: 'there' })).toBe('3 to answer · Now · tarn-hollow · Tallypost');
    expect(titleOf({ ...facts, waiting: 0, state: 'there' })).toBe('Now · tarn-hollow · Tallypost');
    for (const state of ['lost', 'login'] as const) expect(titleOf({ ...facts, state })).not.toContain('3');
  });
});

describe('a filter that is typed', () => {
  const finds = (text: string, alarm: AlarmBody): boolean =>
    fitsFilter(alarm, readFilter(new URLSearchParams({ text })), () => 'hall');

  it('keeps what is being typed, and finds alarms by the words that the rows show', () => {
    expect(readFilter(new URLSearchParams({ text: 'Rate ' })).text).toBe('Rate ');
    for (const text of ['rate high', 'Rate H', ' booster-4 drive ', 'de-rate-high', ''])
      expect(finds(text, waits), text).toBe(true);
    expect(finds('no readings', waits)).toBe(false);
  });

  it('finds the members of a group by the alarm that stands for them', () => {
    expect(finds('zone-hall.zone-silent', { ...low, grouped_under: 'zone-hall.zone-silent' })).toBe(true);
  });
});

describe('the login', () => {
  const session = { name: 'k-wren', role: 'operate', login_needed: true, kiosk: false } as const;
  const times = { until: '2026-03-02T06:00:10.000Z', now: '2026-03-02T06:00:00.000Z' };
  beforeEach(() => void vi.useFakeTimers());
  afterEach(() => {
    vi.useRealTimers();
    vi.unstubAllGlobals();
    takeSession({ name: null, role: null });
    [isLoginNeeded.value, isWall.value, lastLogin.value] = [false, false, ''];
  });

  it('that runs out is asked about until it is answered', async () => {
    const fetch = vi.fn<() => Promise<Response>>();
    fetch.mockRejectedValueOnce(new Error('no way'));
    fetch.mockResolvedValueOnce(Response.json({ ...session, ...times, name: null }));
    vi.stubGlobal('fetch', fetch);
    keepSession({ ...session, ...times });
    await vi.advanceTimersByTimeAsync(12_000);
    expect([login.value, isLoginNeeded.value]).toEqual(['k-wren', false]);
    await vi.advanceTimersByTimeAsync(12_000);
    expect([login.value, isLoginNeeded.value]).toEqual([null, true]);
  });

  it.each([
    [true, false],
    [false, true],
  ])('that ends before a wall (may do without: %s) asks for another one: %s', async (kiosk, isAsked) => {
    isWall.value = true;
    const over = { ...session, ...times, kiosk, name: null, role: null, until: null };
    vi.stubGlobal('fetch', () => Promise.resolve(Response.json(over)));
    keepSession({ ...session, ...times, kiosk });
    await checkSession();
    expect([login.value, isLoginNeeded.value]).toEqual([null, isAsked]);
  });

  it('is not asked about where nobody is in', async () => {
    vi.stubGlobal('fetch', () => expect.unreachable());
    await checkSession();
  });

  it('of the same person goes on with what was open, and of another one does not', () => {
    const before = loginTurn.value;
    takeSession(session);
    takeSession({ name: null, role: null });
    takeSession(session);
    expect(loginTurn.value).toBe(before);
    takeSession({ name: null, role: null });
    takeSession({ ...session, name: 'r-siskin' });
    expect(loginTurn.value).toBe(before + 1);
  });
});
