/** Minutes of running outlive a restart, however far apart they lie: a restart changes no decision of an alarm. */
import { describe, expect, it } from 'vitest';
import { Hall } from '../support/alarm-hall.js';
import { binnedGroup, rateAlarm } from '../support/plans.js';

const MOTOR = 'sump';
const SENSOR = 'sump/de';
const HOUR_S = 3600;

/** A sump pump that runs three minutes each hour, for so many hours; the gateway starts anew at the end of every hour or not. */
function runSump(hours: number, restarts: boolean, isBinned: boolean): Hall {
  const alarm = rateAlarm(SENSOR, 300, { onDelayMs: 60_000, offDelayMs: 60_000 });
  const binned = { dutyGroups: new Map([['pumps', binnedGroup('pumps')]]) };
  const plan = { rateAlarms: [alarm], ...(isBinned ? binned : {}) };
  const hall = new Hall({ motors: [MOTOR], plan, ...(isBinned ? { dutyGroup: 'pumps' } : {}) });
  for (let hour = 0; hour < hours; hour++) {
    // loud from the second to the tenth hour, quiet before and after
    hall.pulses.set(SENSOR, hour >= 1 && hour < 10 ? 100 : 5);
    hall.standing.add(MOTOR);
    hall.run(57 * 60).standing.delete(MOTOR);
    hall.run(180).standing.add(MOTOR);
    if (restarts) hall.restart(0);
  }
  hall.run(HOUR_S);
  return hall;
}

describe('a motor that runs three minutes each hour', () => {
  it.each([false, true])('does the same with a restart every hour; with condition bins: %s', (isBinned) => {
    const [plain, restarted] = [runSump(30, false, isBinned), runSump(30, true, isBinned)];
    const own = plain.entries().filter(({ subject }) => subject === 'sump.de-rate-high');
    expect(own.map(({ what }) => what)).toEqual(['raised', 'returned']);
    expect(JSON.stringify(restarted.store.journal)).toBe(JSON.stringify(plain.store.journal));
    expect(JSON.stringify([...restarted.store.alarms])).toBe(JSON.stringify([...plain.store.alarms]));
    const minutesOf = (hall: Hall): unknown => hall.state.sensors.get(SENSOR)!.minutes;
    expect(minutesOf(restarted)).toEqual(minutesOf(plain));
  });
});
