/** One cause, one alarm to the operator: stories of zones that fall silent, drives that are lost, and what stands out of the group. */
import { describe, expect, it } from 'vitest';
import { Hall } from '../support/alarm-hall.js';

const MOTORS = ['booster-1', 'booster-2', 'booster-3'];
const GROUP = 'zone-hall.zone-silent';

describe('a zone that falls silent', () => {
  it('one sensor alone is told alone, without a wait', () => {
    const hall = new Hall({ motors: MOTORS }).run(600).cut(['booster-1/de']).run(340);
    expect(hall.told()).toEqual(['booster-1.de-no-readings']);
    expect(hall.store.alarms.get('booster-1.de-no-readings')?.groupedUnder).toBeNull();
  });

  it('all of it is one alarm that names its sensors, though they were cut off within a reporting interval', () => {
    const hall = new Hall({ motors: MOTORS }).run(600);
    for (const sensor of hall.sensors) hall.cut([sensor]).run(sensor.endsWith('nde') ? 10 : 0);
    hall.run(600);
    expect(hall.told()).toEqual([GROUP]);
    const group = hall.store.alarms.get(GROUP)!;
    expect(group).toMatchObject({ motor: 'zone-hall', kind: 'zone-silent', state: 'unacknowledged' });
    for (const sensor of hall.sensors) expect(group.evidence?.says).toContain(sensor);
    for (const sensor of hall.sensors) {
      const member = hall.store.alarms.get(`${sensor.replace('/', '.')}-no-readings`)!;
      expect(member).toMatchObject({
        active: true,
        groupedUnder: GROUP,
        annunciatedAt: null,
        state: 'acknowledged',
      });
    }
  });

  it('gathers what has hardly an on-delay to gather in', () => {
    const hall = new Hall({ motors: MOTORS, onDelayMs: 10_000 }).run(600);
    for (const sensor of hall.sensors) hall.cut([sensor]).run(sensor === 'booster-1/de' ? 10 : 0);
    hall.run(120);
    expect(hall.told()).toEqual([GROUP]);
  });

  it('waits and counts for as much as the site says', () => {
    const groupAlarms = { 'zone-silent': { gatherMs: 0, priority: 'high' as const } };
    const hall = new Hall({ motors: MOTORS, onDelayMs: 10_000, plan: { groupAlarms } }).run(600);
    for (const sensor of hall.sensors) hall.cut([sensor]).run(sensor === 'booster-1/de' ? 30 : 0);
    hall.run(120);
    expect(hall.told()).toEqual(['booster-1.de-no-readings', GROUP]);
    expect(hall.store.alarms.get(GROUP)?.priority).toBe('high');
  });

  it('two sensors of one motor make no group', () => {
    const hall = new Hall({ motors: ['booster-1'] }).run(600);
    hall.cut(hall.sensors).run(500);
    expect(hall.told()).toEqual(['booster-1.de-no-readings', 'booster-1.nde-no-readings']);
  });

  it('a sensor with a long interval, not due yet, does not speak against it', () => {
    const intervalMs = (motor: string): number => (motor === 'booster-3' ? 600_000 : 10_000);
    const hall = new Hall({ motors: MOTORS, intervalMs }).run(3600);
    hall.cut(hall.sensors).run(400);
    expect(hall.told()).toEqual([GROUP]);
    hall.run(3600);
    expect(hall.told()).toEqual([GROUP]);
  });

  it('all back: everything returns, and nothing is told again', () => {
    const hall = new Hall({ motors: MOTORS }).run(600);
    hall.cut(hall.sensors).run(900).mend(hall.sensors).run(600);
    expect(hall.active()).toEqual([]);
    expect(hall.told()).toEqual([GROUP]);
    expect(hall.entries().filter(({ annunciated, what }) => annunciated && what === 'returned')).toHaveLength(
      1,
    );
    expect(hall.entries().filter(({ what }) => what === 'ungrouped')).toEqual([]);
    expect([...hall.store.alarms.values()].map(({ groupedUnder }) => groupedUnder)).toEqual(
      [...hall.store.alarms.values()].map(() => null),
    );
  });

  it('drives that come back at once leave their group with their return alone', () => {
    const hall = new Hall({ motors: MOTORS }).run(600);
    for (const motor of MOTORS) hall.lost.add(motor);
    hall.run(600);
    hall.lost.clear();
    hall.run(600);
    expect(hall.active()).toEqual([]);
    expect(hall.entries().filter(({ what }) => what === 'ungrouped')).toEqual([]);
    for (const { groupedUnder } of hall.store.alarms.values()) expect(groupedUnder).toBeNull();
  });

  it('a part is back: the rest is told on its own after a while, once', () => {
    const hall = new Hall({ motors: MOTORS }).run(600);
    hall.cut(hall.sensors).run(900);
    hall.mend(hall.sensors.filter((sensor) => sensor !== 'booster-2/nde')).run(110);
    expect(hall.told()).toEqual([GROUP]);
    hall.run(600);
    expect(hall.told()).toEqual([GROUP, 'booster-2.nde-no-readings']);
    expect(hall.store.alarms.get('booster-2.nde-no-readings')).toMatchObject({
      state: 'unacknowledged',
      groupedUnder: null,
    });
    expect(hall.active()).toEqual(['booster-2.nde-no-readings']);
  });

  it('one that was told long before is not told again when the zone follows, nor when it is back', () => {
    const hall = new Hall({ motors: MOTORS }).run(600).cut(['booster-1/de']).run(3600);
    hall.cut(hall.sensors).run(900);
    expect(hall.told()).toEqual(['booster-1.de-no-readings', GROUP]);
    expect(hall.store.alarms.get('booster-1.de-no-readings')?.groupedUnder).toBe(GROUP);
    hall.mend(hall.sensors.slice(1)).run(900);
    expect(hall.told()).toEqual(['booster-1.de-no-readings', GROUP]);
    expect(hall.active()).toEqual(['booster-1.de-no-readings']);
  });

  it('a zone in which nothing was ever heard is one alarm', () => {
    const hall = new Hall({ motors: MOTORS });
    hall.cut(hall.sensors).run(900);
    expect(hall.told().filter((id) => id.endsWith('readings') || id === GROUP)).toEqual([GROUP]);
  });
});

describe('a switch that dies', () => {
  const DRIVES = 'zone-hall.zone-drives-lost';

  /** Drives and sensors cut off at once. */
  function cutAll(hall: Hall): Hall {
    for (const motor of MOTORS) hall.lost.add(motor);
    return hall.cut(hall.sensors);
  }

  function mendAll(hall: Hall): Hall {
    hall.lost.clear();
    return hall.mend(hall.sensors);
  }

  it('takes drives and sensors with it: one alarm, which says so', () => {
    const hall = cutAll(new Hall({ motors: MOTORS }).run(600)).run(900);
    expect(hall.told()).toEqual([DRIVES]);
    expect(hall.store.alarms.get(GROUP)).toMatchObject({
      active: true,
      groupedUnder: DRIVES,
      annunciatedAt: null,
      state: 'acknowledged',
    });
    expect(hall.store.alarms.get(DRIVES)!.evidence!.says).toContain('no sensor of the zone sends readings');
  });

  it('is one alarm also where the silence is known first', () => {
    const hall = cutAll(new Hall({ motors: MOTORS, onDelayMs: 10_000, heartbeatMs: 60_000 }).run(600)).run(
      900,
    );
    expect(hall.told()).toEqual([GROUP]);
    expect(hall.store.alarms.get(DRIVES)).toMatchObject({
      active: true,
      groupedUnder: GROUP,
      annunciatedAt: null,
    });
  });

  it('comes back: everything returns, and nothing more is told, restarts or not', () => {
    for (const restarts of [false, true]) {
      const hall = cutAll(new Hall({ motors: MOTORS }).run(600)).run(900, restarts);
      mendAll(hall).run(900, restarts);
      expect(hall.active()).toEqual([]);
      expect(hall.told()).toEqual([DRIVES]);
      for (const { groupedUnder } of hall.store.alarms.values()) expect(groupedUnder).toBeNull();
    }
  });

  it('is mended in part: what stays away is told, once', () => {
    const hall = cutAll(new Hall({ motors: MOTORS }).run(600)).run(900);
    hall.lost.clear();
    hall.run(900);
    expect(hall.told()).toEqual([DRIVES, GROUP]);
    expect(hall.active().filter((id) => id.startsWith('zone-'))).toEqual([GROUP]);
  });

  it('is not blamed for drives that are lost an hour after the sensors', () => {
    const hall = new Hall({ motors: MOTORS }).run(600);
    hall.cut(hall.sensors).run(3600);
    for (const motor of MOTORS) hall.lost.add(motor);
    hall.run(900);
    expect(hall.told()).toEqual([GROUP, DRIVES]);
  });
});

describe('a gateway that stood', () => {
  it('raises nothing for the time in which nobody listened', () => {
    const hall = new Hall({ motors: MOTORS }).run(600).restart(7200).run(900);
    expect(hall.told()).toEqual([]);
    expect(hall.active()).toEqual([]);
  });

  it('tells nothing twice, and neither ends nor divides a group that stands', () => {
    const hall = new Hall({ motors: MOTORS }).run(600);
    hall.cut(hall.sensors).run(900).restart(7200).run(900).restart(20).run(900);
    expect(hall.told()).toEqual([GROUP]);
    expect(hall.active()).toHaveLength(hall.sensors.length + 1);
    hall.mend(hall.sensors.slice(1)).run(60).restart(3600);
    const before = hall.now;
    while (hall.told().length < 2) hall.run(10);
    expect(hall.told()).toEqual([GROUP, 'booster-1.de-no-readings']);
    expect(hall.now - before).toBeGreaterThan(60_000);
  });
});

describe('drives that are lost', () => {
  it('several at once are one alarm, though their heartbeats end one after another', () => {
    const hall = new Hall({ motors: MOTORS }).run(600);
    hall.lost.add('booster-1');
    hall.run(20);
    hall.lost.add('booster-3');
    hall.run(300);
    expect(hall.told()).toEqual(['zone-hall.zone-drives-lost']);
    expect(hall.store.alarms.get('zone-hall.zone-drives-lost')?.evidence?.says).toContain(
      'booster-1, booster-3',
    );
  });

  it('one, and another much later, are two alarms', () => {
    const hall = new Hall({ motors: MOTORS }).run(600);
    hall.lost.add('booster-1');
    hall.run(900);
    hall.lost.add('booster-2');
    hall.run(900);
    expect(hall.told()).toEqual(['booster-1.drive-run-state-lost', 'booster-2.drive-run-state-lost']);
  });

  it('the last one that stays lost is told on its own', () => {
    const hall = new Hall({ motors: MOTORS }).run(600);
    for (const motor of MOTORS) hall.lost.add(motor);
    hall.run(600);
    hall.lost.delete('booster-1');
    hall.lost.delete('booster-2');
    hall.run(600);
    expect(hall.told()).toEqual(['zone-hall.zone-drives-lost', 'booster-3.drive-run-state-lost']);
    expect(hall.active()).toEqual(['booster-3.drive-run-state-lost']);
  });
});
