/**
 * Stories of one alarm through the core's front door, a line an event, as an operator would tell them: what happens, the
 * state shown, and whether somebody is told. Terms after IEC 62682 / ISA-18.2 and OPC 10000-9.
 */
import { describe, expect, it } from 'vitest';
import type { JournalEntry } from '../../src/core/alarm-rows.js';
import { HOUR_MS } from '../support/alarm-states.js';
import { LinkRig, LOST } from '../support/link-rig.js';

interface Wishes {
  readonly latching?: boolean;
  /** opens anew from the store behind each line */
  readonly restarts?: boolean;
}

/** `event -> state, told`; `told` where an entry of the journal told the operator of an activation. */
function tell(story: string, wishes: Wishes = {}): LinkRig {
  const rig = new LinkRig(wishes.latching ?? false);
  for (const line of story.trim().split('\n')) {
    const [what, shown] = line
      .split('#')[0]!
      .split('->')
      .map((part) => part.trim()) as [string, string];
    const before = rig.store.journal.length;
    const refusal = rig.play(what);
    const isTold = rig.store.journal.slice(before).some(isAnnouncement);
    const said = [rig.state, ...(isTold ? ['told'] : []), ...(refusal === null ? [] : [refusal])].join(', ');
    expect(`${what} -> ${said}`).toBe(`${what} -> ${shown}`);
    if (wishes.restarts === true) rig.restart();
  }
  return rig;
}

const isAnnouncement = ({ annunciated, what }: JournalEntry): boolean => annunciated && what !== 'returned';

const STORIES: Readonly<Record<string, string>> = {
  'an alarm runs its course': `
    lose              -> unacknowledged, told
    confirm           -> unacknowledged, acknowledge-first     # an act of its own
    acknowledge       -> acknowledged
    acknowledge       -> acknowledged, nothing-to-acknowledge
    confirm           -> acknowledged
    confirm           -> acknowledged, nothing-to-confirm
    regain            -> normal
  `,
  'it returns before anybody looked, and comes again': `
    lose              -> unacknowledged, told
    regain            -> returned-unacknowledged
    lose              -> unacknowledged, told                  # a new activation is a new annunciation
    regain            -> returned-unacknowledged
    acknowledge       -> normal
    confirm           -> normal                                # the action was taken afterwards
  `,
  'a shelf hides what comes up, and its end brings it to light': `
    shelve 60         -> shelved                               # for planned work, before it ever came up
    lose              -> shelved
    wait 58           -> shelved
    wait 2            -> unacknowledged, told
    acknowledge       -> acknowledged
  `,
  'what has come and gone under a shelf is shown, but nobody is told': `
    shelve 60         -> shelved
    lose              -> shelved
    regain            -> shelved
    wait 60           -> returned-unacknowledged
    acknowledge       -> normal
  `,
  'what was told before it was shelved is not told again': `
    lose              -> unacknowledged, told
    shelve 60         -> shelved
    wait 61           -> unacknowledged
    shelve 60         -> shelved
    acknowledge       -> shelved                               # goes on underneath
    unshelve          -> acknowledged
    unshelve          -> acknowledged, not-shelved
  `,
  'a shelf for one return ends with it': `
    lose              -> unacknowledged, told
    shelve-once 600   -> shelved
    regain            -> returned-unacknowledged
    lose              -> unacknowledged, told
  `,
  'a shelf for one return that never comes ends at its time': `
    lose              -> unacknowledged, told
    shelve-once 60    -> shelved
    wait 61           -> unacknowledged
  `,
  'a shelf for one return waits for an activation to return': `
    shelve-once 600   -> shelved
    lose              -> shelved
    regain            -> returned-unacknowledged
  `,
  'a shelf can be renewed, and only within bounds': `
    shelve 60         -> shelved
    wait 30           -> shelved
    shelve 60         -> shelved
    wait 45           -> shelved
    shelve 1441       -> shelved, until-too-far
    shelve 0          -> shelved, until-past
    shelve 1440       -> shelved
    wait 61           -> shelved
  `,
  'out of service hides a shelf, and both hide what goes on': `
    shelve 120        -> shelved
    out-of-service    -> out-of-service
    out-of-service    -> out-of-service, out-of-service-already
    lose              -> out-of-service
    wait 121          -> out-of-service                        # the shelf ends underneath
    return            -> unacknowledged, told
    return            -> unacknowledged, in-service-already
  `,
  'out of service has no end of its own': `
    out-of-service    -> out-of-service
    wait 14400        -> out-of-service
    lose              -> out-of-service
    regain            -> out-of-service
    return            -> returned-unacknowledged
  `,
  'what the configuration no longer names is suppressed, and comes back with it': `
    lose              -> unacknowledged, told
    drop-alarm        -> suppressed-by-design
    shelve 120        -> shelved
    wait 121          -> suppressed-by-design
    name-alarm        -> unacknowledged
    regain            -> returned-unacknowledged
  `,
};

const LATCHED = `
  lose              -> unacknowledged, told
  reset             -> unacknowledged, still-active
  regain            -> latched-unacknowledged
  reset             -> latched-unacknowledged, acknowledge-first
  acknowledge       -> latched-acknowledged
  shelve 60         -> shelved
  reset             -> shelved
  reset             -> shelved, not-latched
  wait 61           -> normal
`;

describe.each(Object.entries(STORIES))('%s', (_, story) => {
  it('as it goes', () => void tell(story));
  it('with a restart behind every line', () => void tell(story, { restarts: true }));
});

describe('a latching alarm', () => {
  it('stands until it is reset', () => void tell(LATCHED, { latching: true }));
  it('with a restart behind every line', () => void tell(LATCHED, { latching: true, restarts: true }));
});

describe('an outage of the gateway', () => {
  it('ends a shelf that would have ended, at its time, and tells what stands', () => {
    const rig = tell(`
      shelve 60         -> shelved
      lose              -> shelved
    `);
    const until = rig.record.shelvedUntil!;
    rig.sleep(5 * HOUR_MS);
    rig.play('wait 0');
    const end = rig.store.journal.find(({ what }) => what === 'shelf-expired');
    expect(end).toMatchObject({
      at: until,
      annunciated: true,
      from: 'shelved',
      to: 'unacknowledged',
      who: '',
    });
    expect(end!.detectedAt).toBe(rig.now);
    expect(end!.text).toContain('raised meanwhile, it still stands: pump: nobody reports the run state');
    expect(end!.evidence?.says).toContain('nobody reports');
    expect(rig.record.annunciatedAt).toBe(rig.now);
  });

  it('ends several shelves in their order', () => {
    const rig = new LinkRig(false);
    for (const [id, min] of [
      ['pump.de-no-readings', 90],
      [LOST, 30],
      ['pump.nde-no-readings', 60],
    ] as const)
      rig.play(`shelve ${min}`, id);
    rig.sleep(2 * HOUR_MS);
    rig.play('wait 0');
    const ends = rig.store.journal.filter(({ what }) => what === 'shelf-expired');
    expect(ends.map(({ subject }) => subject)).toEqual([LOST, 'pump.nde-no-readings', 'pump.de-no-readings']);
    expect(new Set(ends.map(({ detectedAt }) => detectedAt)).size).toBe(1);
  });

  it('an act that comes before the first tick finds the shelf ended', () => {
    const rig = tell('shelve 60 -> shelved');
    rig.sleep(5 * HOUR_MS);
    expect(rig.play('unshelve')).toBe('not-shelved');
    expect(rig.state).toBe('normal');
    expect(rig.store.journal.at(-1)).toMatchObject({
      ...{ what: 'shelf-expired', annunciated: false, detectedAt: rig.now },
      at: rig.now - 5 * HOUR_MS + 3_600_000,
    });
  });
});

describe('the journal', () => {
  it('has one entry for each change, with who and what, and none for what was refused', () => {
    const rig = tell(`
      lose              -> unacknowledged, told
      confirm           -> unacknowledged, acknowledge-first
      acknowledge       -> acknowledged
      shelve-once 60    -> shelved
      regain            -> normal
    `);
    const entries = rig.store.journal.map(({ kind, what, from, to, who, annunciated }) => [
      kind,
      what,
      from,
      to,
      who,
      annunciated,
    ]);
    expect(entries).toEqual([
      ['alarm', 'raised', 'normal', 'unacknowledged', '', true],
      ['operator', 'acknowledged', 'unacknowledged', 'acknowledged', 'M. Reed', false],
      ['operator', 'shelved', 'acknowledged', 'shelved', 'M. Reed', false],
      ['alarm', 'returned', 'shelved', 'shelved', '', false],
      ['alarm', 'shelf-expired', 'shelved', 'normal', '', false],
    ]);
    expect(
      rig.store.journal.every(({ at, detectedAt, subject }) => detectedAt >= at && subject === LOST),
    ).toBe(true);
    expect(rig.store.journal.at(-1)!.text).toBe('the shelf was for one return');
  });

  it('says what came and went underneath', () => {
    const rig = tell(STORIES['what has come and gone under a shelf is shown, but nobody is told']!);
    const end = rig.store.journal.find(({ what }) => what === 'shelf-expired')!;
    expect(end.text).toBe('the shelf has ended; it was raised meanwhile and has returned');
  });

  it('an act on an alarm that nobody knows changes nothing', () => {
    const rig = new LinkRig(false);
    expect(rig.play('acknowledge', 'pump.de-nothing')).toBe('unknown-alarm');
    expect(rig.store.journal).toEqual([]);
    expect([rig.store.alarms.has('pump.de-nothing'), rig.store.diagnostics.size]).toEqual([false, 0]);
  });
});
