/** An alarm that is told later than it was raised counts once wherever the journal is read: messages, figures, rehearsals. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { followAlarms } from '../../src/advice/alarm-histories.js';
import { formatUtc } from '../../shared/time.js';
import { openState, RESTORE_REACH_MS } from '../../src/core/step.js';
import { composeMessage } from '../../src/notify/compose-message.js';
import { newState } from '../../src/notify/notify-state.js';
import { planMessages } from '../../src/notify/plan-messages.js';
import { readRecorded } from '../../src/rehearsal/journal.js';
import { HistoryReader } from '../../src/store/read-history.js';
import { readChanges } from '../../src/store/read-journal.js';
import { readJournalAfter } from '../../src/store/read-news.js';
import { openStore } from '../../src/store/store.js';
import { Hall } from '../support/alarm-hall.js';
import { rateAlarm } from '../support/plans.js';
import { commitBatch, withReader } from '../store/store-rig.js';
import { factsOf, notifyPlan, route } from './story.js';

const SENSOR = 'booster-1/de';
const ALARM = 'booster-1.de-rate-high';

let dir: string;
beforeEach(() => {
  dir = mkdtempSync(join(tmpdir(), 'tallypost-told-'));
});
afterEach(() => rmSync(dir, { recursive: true, force: true }));

/** Readings of three hours come late; the alarm that they raise still stands, and returns when it was told. */
function liveThrough(): Hall {
  const plan = { rateAlarms: [rateAlarm(SENSOR, 300)] };
  const hall = new Hall({ motors: ['booster-1'], plan }).run(3600);
  hall.keptBack.set(SENSOR, []);
  hall.pulses.set(SENSOR, 100);
  hall
    .run(3 * 3600)
    .sendKept(SENSOR)
    .run(900);
  hall.pulses.set(SENSOR, 1);
  return hall.run(2 * 3600);
}

it('is one message with the time of its raise, one alarm in the figures, one activation of a rehearsal', () => {
  const hall = liveThrough();
  const store = openStore(dir);
  const state = openState(hall.plan, store.restore(hall.plan, RESTORE_REACH_MS));
  for (let i = 0; i < hall.facts.length; i += 4) {
    commitBatch(store, hall.plan, state, hall.facts.slice(i, i + 4));
  }
  store.close();
  withReader(dir, (reader) => {
    const { entries } = readJournalAfter(reader, 0, 1000);
    const own = entries.filter(({ subject }) => subject === ALARM);
    expect(own.map(({ what, annunciated }) => [what, annunciated])).toEqual([
      ['raised', false],
      ['annunciated', true],
      ['returned', true],
    ]);
    const [raise, told] = own;
    expect(told!.at - raise!.at).toBeGreaterThan(3_600_000);

    const known = own.map((entry) => ({ ...entry, facts: factsOf(ALARM) }));
    const notify = newState(0);
    const plan = notifyPlan([route('shift')]);
    for (const entry of known) {
      planMessages(notify, [entry], plan, entry.detectedAt);
      planMessages(notify, [], plan, entry.detectedAt + plan.waitMs);
    }
    const byId = new Map(known.map((entry) => [entry.id, entry]));
    const parts = { site: plan.site, timeZone: plan.timeZone, entries: byId, facts: factsOf };
    const alarms = notify.outbox.flatMap((message) => composeMessage(message, parts).alarms);
    expect(alarms.map(({ change, times, since }) => [change, times, since])).toEqual([
      ['raised', 1, formatUtc(raise!.at)],
      ['returned', 1, formatUtc(raise!.at)],
    ]);

    const lines = readChanges(reader, 0, 1000).map(
      ({ detectedAt: at, subject: alarm, what, annunciated }) => ({
        ...{ at, alarm, what, annunciated },
      }),
    );
    const history = followAlarms(lines).find(({ alarm }) => alarm === ALARM)!;
    expect(history).toMatchObject({ annunciations: [told!.detectedAt], returns: [own[2]!.detectedAt] });

    const { log } = readRecorded(new HistoryReader(reader), new Set([ALARM]), 0);
    expect(log.of(ALARM).map(({ from, to }) => [from, to])).toEqual([[raise!.at, own[2]!.at]]);
  });
});
