import { expect, it } from 'vitest';
import { Clock } from '../../src/engine/clock.js';

function rig(wall: number) {
  const time = { wall, monotonic: 0 };
  const clock = new Clock({ wall: () => time.wall, monotonic: () => time.monotonic });
  const pass = (ms: number): void => {
    time.wall += ms;
    time.monotonic += ms;
  };
  return { time, clock, pass };
}

it('never goes back', () => {
  const { time, clock, pass } = rig(10_000.7);
  expect(clock.now()).toBe(10_000);
  pass(500);
  expect(clock.now()).toBe(10_500);
  time.wall -= 400;
  expect(clock.now()).toBe(10_500);
});

it('an ordinary correction is no fault, a step back is, until the clock is right', () => {
  const { time, clock, pass } = rig(1_000_000);
  clock.now();
  time.wall -= 1_500;
  expect(clock.findFault(999_000)).toBeNull();
  time.wall -= 3_600_000;
  expect(clock.findFault(999_000)).toMatch(/3602 s before what is stored/);
  time.wall += 3_600_000;
  pass(1_000);
  expect(clock.findFault(999_000)).toBeNull();
});

it('a clock before the last commit is a fault from the start', () => {
  const { clock } = rig(0);
  expect(clock.findFault(1_772_431_200_000)).toMatch(/1970-01-01T00:00:00.000Z/);
  expect(clock.findFault(0)).toBeNull();
});

it('goes on from the last commit when a person says so', () => {
  const { clock, pass } = rig(50_000);
  clock.goOnFrom(900_000);
  expect(clock.findFault(900_000)).toBeNull();
  expect(clock.now()).toBe(900_000);
  pass(250);
  expect(clock.now()).toBe(900_250);
});

it('what a person added melts as the clock is set right, and not when a step back is only taken back', () => {
  const { time, clock, pass } = rig(50_000);
  clock.goOnFrom(3_650_000);
  time.wall -= 600_000;
  expect(clock.findFault(3_650_000)).toMatch(/600 s before/);
  time.wall += 600_000;
  expect(clock.findFault(3_650_000)).toBeNull();
  expect([clock.offsetMs, clock.now()]).toEqual([3_600_000, 3_650_000]);
  time.wall -= 600_000;
  clock.now();
  pass(1_000);
  time.wall += 3_600_000 + 600_000;
  expect([clock.now(), clock.offsetMs]).toEqual([3_651_000, 0]);
});

it('a step forward is told once', () => {
  const { time, clock, pass } = rig(1_000);
  pass(60_000);
  expect(clock.takeStep()).toBe(0);
  time.wall += 86_400_000;
  pass(1_000);
  expect(clock.takeStep()).toBe(86_400_000);
  expect(clock.takeStep()).toBe(0);
});
