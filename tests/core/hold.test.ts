/** No data is not normal: stories of an alarm whose motor stands, whose run state nobody knows, whose sensor falls silent. */
import { describe, expect, it } from 'vitest';
import type { AlarmRecord } from '../../src/core/alarm-rows.js';
import { Hall } from '../support/alarm-hall.js';
import { rateAlarm } from '../support/plans.js';

const ALARM = 'pump.de-rate-high';

/** One motor whose alarm stands: 600 a minute over a setpoint of 300. */
function raised(restarts = false): Hall {
  const hall = new Hall({ motors: ['pump'], plan: { rateAlarms: [rateAlarm('pump/de', 300)] } });
  hall.pulses.set('pump/de', 100);
  return hall.run(1800, restarts);
}

function alarmOf(hall: Hall): AlarmRecord {
  return hall.store.alarms.get(ALARM)!;
}

describe('an alarm without data', () => {
  it.each([
    ['standing', (hall: Hall) => hall.standing.add('pump'), (hall: Hall) => hall.standing.delete('pump')],
    ['run-state-unknown', (hall: Hall) => hall.lost.add('pump'), (hall: Hall) => hall.lost.delete('pump')],
    ['no-readings', (hall: Hall) => hall.cut(['pump/de']), (hall: Hall) => hall.mend(['pump/de'])],
  ] as const)('is held while %s: it neither returns nor is raised again', (reason, begin, end) => {
    // a restart takes a sensor for heard, so that one every ten seconds hides its silence
    for (const restarts of reason === 'no-readings' ? [false] : [false, true]) {
      const hall = raised(restarts);
      expect(alarmOf(hall)).toMatchObject({ active: true, heldBy: null });
      begin(hall);
      hall.run(1800, restarts);
      expect(alarmOf(hall)).toMatchObject({ active: true, heldBy: reason });
      end(hall);
      hall.run(1200, restarts);
      expect(alarmOf(hall)).toMatchObject({ active: true, heldBy: null });
      expect(hall.told().filter((id) => id === ALARM)).toEqual([ALARM]);
      expect(hall.entries().filter(({ subject }) => subject === ALARM)).toHaveLength(1);
    }
  });

  it('a delay under way is held too, and goes on where it was', () => {
    const hall = new Hall({ motors: ['pump'], plan: { rateAlarms: [rateAlarm('pump/de', 300)] } });
    hall.pulses.set('pump/de', 100);
    while ((hall.store.alarms.get(ALARM)?.onMs ?? 0) < 120_000) hall.run(60);
    hall.standing.add('pump');
    hall.run(300);
    const { onMs } = alarmOf(hall);
    hall.run(7200);
    expect(alarmOf(hall)).toMatchObject({ active: false, heldBy: 'standing', onMs });
    hall.standing.delete('pump');
    hall.run(900);
    expect(alarmOf(hall)).toMatchObject({ active: true, heldBy: null });
  });

  it('an alarm with nothing under way is held by nothing', () => {
    const hall = new Hall({ motors: ['pump'], plan: { rateAlarms: [rateAlarm('pump/de', 300)] } }).run(1200);
    hall.standing.add('pump');
    hall.run(600);
    expect(hall.store.alarms.get(ALARM)?.heldBy ?? null).toBeNull();
  });
});
