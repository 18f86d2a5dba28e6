import { describe, expect, it } from 'vitest';
import { ClockVote } from '../../src/engine/clock-vote.js';
import { sensorPlan } from '../support/plans.js';

const NOW = 1_772_431_200_000;
const HOUR = 3_600_000;
const sensors = ['a', 'b', 'c', 'd', 'e'].map((motor) => sensorPlan(motor, 'de'));

/** Every sensor sends `readings`, `everyMs` apart, each off by what `offsetOf` says. Returns the verdict afterwards. */
function hear(
  vote: ClockVote,
  offsetOf: (sensor: number, reading: number) => number,
  { readings = 4, everyMs = 10_000, count = sensors.length } = {},
): string | null {
  for (let i = 0; i < readings; i++) {
    for (let s = 0; s < count; s++) {
      const arrived = NOW + i * everyMs + s;
      vote.note(sensors[s]!, arrived + offsetOf(s, i), arrived);
    }
  }
  return vote.findFault(NOW + readings * everyMs);
}
const makeVote = () => new ClockVote(120_000, 7 * 24 * HOUR);

describe('the clock of the gateway is doubted', () => {
  it('when most devices agree that it is an hour late', () => {
    expect(hear(makeVote(), (s) => HOUR + s * 1_000)).toMatch(/3602 s behind most devices/);
  });

  it('when most agree that it is an hour early, in readings that keep their pace', () => {
    expect(hear(makeVote(), (s) => (s === 0 ? 0 : -HOUR))).toMatch(/ahead of most devices/);
  });
});

describe('it is not doubted', () => {
  it('while devices agree with it, or one does not', () => {
    expect(hear(makeVote(), (s) => (s === 2 ? HOUR : 50))).toBeNull();
  });

  it('when a backlog is sent after an outage, faster than it was taken', () => {
    expect(hear(makeVote(), (_, i) => -HOUR + i * 10_000, { everyMs: 20, readings: 300 })).toBeNull();
  });

  it('when devices never had their clock set, although they agree', () => {
    expect(hear(makeVote(), (_, i) => -NOW + i)).toBeNull();
  });

  it('by devices that all say something else', () => {
    expect(hear(makeVote(), (s) => (s + 1) * HOUR)).toBeNull();
  });

  it('by fewer than three, or by a first reading', () => {
    expect(hear(makeVote(), () => HOUR, { count: 2 })).toBeNull();
    expect(hear(makeVote(), () => HOUR, { readings: 2 })).toBeNull();
  });

  it('after a person has let it pass, until devices say something else again', () => {
    const vote = makeVote();
    expect(hear(vote, () => HOUR)).not.toBeNull();
    vote.trust(NOW + 40_000);
    expect(vote.findFault(NOW + 40_000)).toBeNull();
    expect(hear(vote, () => 5 * HOUR)).not.toBeNull();
  });

  it('after the clock was set', () => {
    const vote = makeVote();
    hear(vote, () => HOUR);
    vote.clear();
    expect(vote.findFault(NOW + 40_000)).toBeNull();
  });
});
