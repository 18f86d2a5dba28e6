import { expect, it } from 'vitest';
import { FedClock } from '../../src/plc/fed-clock.js';
import { FEED_LOST_MS } from '../../src/plc/plant.js';
import { fedPicture, NOW } from './small-plant.js';

const HOUR_MS = 3_600_000;

function rig() {
  const time = { wall: NOW, monotonic: 500 };
  const clock = new FedClock({ wall: () => time.wall, monotonic: () => time.monotonic });
  const pass = (ms: number): void => {
    time.wall += ms;
    time.monotonic += ms;
  };
  return { time, clock, pass };
}

it('is the clock of the gateway, not of the machine', () => {
  const { clock, pass } = rig();
  clock.take(3 * HOUR_MS);
  expect(clock.now()).toBe(NOW + 3 * HOUR_MS);
  pass(700.6);
  expect(clock.now()).toBe(NOW + 3 * HOUR_MS + 700);
  expect(clock.upMs()).toBeCloseTo(700.6);
});

it.each([
  ['back', -5 * HOUR_MS],
  ['forth', 5 * HOUR_MS],
])(
  'a machine whose clock is put %s takes no silent gateway for one that speaks, nor the other way',
  (_, step) => {
    const { time, clock, pass } = rig();
    const picture = fedPicture();
    const isFed = (): boolean => {
      picture.feed = { ...picture.feed, beatAt: clock.beatAt() };
      return picture.isFed(clock.now());
    };
    expect(isFed()).toBe(false);
    clock.take(0);
    time.wall += step;
    pass(FEED_LOST_MS - 1_000);
    expect(isFed()).toBe(true);
    pass(2_000);
    expect(isFed()).toBe(false);
    clock.take(-step);
    expect(isFed()).toBe(true);
  },
);

it('tells one time for a beat, however the two clocks drift apart', () => {
  const { time, clock, pass } = rig();
  clock.take(0);
  const at = clock.beatAt();
  pass(1_000);
  time.wall += 3;
  expect(clock.beatAt()).toBe(at);
});
