/** Groups when the configuration changes under them: nothing stands for ever because nobody looks at it any more. */
import { describe, expect, it } from 'vitest';
import { Hall } from '../support/alarm-hall.js';
import { motorPlan } from '../support/plans.js';

const MOTORS = ['booster-1', 'booster-2', 'booster-3'];

function silentHall(): Hall {
  const hall = new Hall({ motors: MOTORS }).run(600);
  return hall.cut(hall.sensors).run(900);
}

function moveAll(hall: Hall, zone: string): Hall {
  const motors = [...hall.plan.motors.keys()].map(
    (key) => [key, motorPlan(key, { heartbeatMs: 20_000, zone })] as const,
  );
  return hall.reconfigure({ motors: new Map(motors) });
}

describe('a zone that gets another name while it is silent', () => {
  it('ends the old alarm, and one alarm of the new zone stands for the same members', () => {
    const hall = moveAll(silentHall(), 'cellar').run(60);
    expect(hall.store.alarms.get('zone-hall.zone-silent')?.active).toBe(false);
    expect(hall.told()).toEqual(['zone-hall.zone-silent', 'zone-cellar.zone-silent']);
    const member = hall.store.alarms.get('booster-1.de-no-readings');
    expect(member).toMatchObject({ active: true, groupedUnder: 'zone-cellar.zone-silent' });
    hall.mend(hall.sensors).run(900);
    expect(hall.active()).toEqual([]);
    expect(hall.told()).toHaveLength(2);
  });

  it('tells what is no group in the new zone', () => {
    const hall = silentHall();
    const zones = MOTORS.map((key) => [key, motorPlan(key, { heartbeatMs: 20_000, zone: key })] as const);
    hall.reconfigure({ motors: new Map(zones) }).run(60);
    expect(hall.told().sort()).toEqual(
      [
        'zone-hall.zone-silent',
        ...hall.sensors.map((sensor) => `${sensor.replace('/', '.')}-no-readings`),
      ].sort(),
    );
    expect(hall.told()).toHaveLength(7);
  });
});

it('a member that the configuration no longer names keeps no group standing, and is told when it is named again', () => {
  const hall = silentHall();
  const { conditionAlarms } = hall.plan;
  const gone = 'booster-3.de-no-readings';
  hall.reconfigure({ conditionAlarms: conditionAlarms.filter(({ id }) => id !== gone) }).run(60);
  expect(hall.store.alarms.get(gone)).toMatchObject({ groupedUnder: null, state: 'suppressed-by-design' });
  expect(hall.store.alarms.get('zone-hall.zone-silent')?.active).toBe(true);
  hall.mend(hall.sensors.slice(0, 4)).run(900);
  hall.reconfigure({ conditionAlarms }).run(60);
  expect(hall.told()).toEqual(['zone-hall.zone-silent', 'booster-3.nde-no-readings', gone]);
});

it('a notice about interference ends with its zone', () => {
  const hall = new Hall({ motors: [...MOTORS, 'booster-4'], plan: { conditionAlarms: [] } }).run(1500);
  for (let i = 0; i < 3; i++) {
    for (const sensor of hall.sensors) hall.pulses.set(sensor, 200);
    hall.run(10);
    for (const sensor of hall.sensors) hall.pulses.set(sensor, 1);
    hall.run(890);
  }
  const notice = () => hall.store.alarms.get('zone-hall.zone-burst');
  expect(notice()).toMatchObject({ active: true });
  moveAll(hall, 'cellar').run(60);
  expect(notice()).toMatchObject({ active: false, state: 'normal' });
});
