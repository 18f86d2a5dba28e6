import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/advice/day.js';
import type { RatioEvidence } from '../../src/advice/evidence.js';
import type { CandidateSensor } from '../../src/advice/candidate-sensor.js';
import { NO_REMAINING_LIFE, rankCandidates, type Candidate } from '../../src/advice/plan-list.js';
import { action } from './motors.js';

const T = Date.UTC(2026, 1, 3);

function between(lower: number, ratio: number, upper: number): RatioEvidence {
  return { ratio, lower, upper };
}

function place(known: Partial<CandidateSensor> = {}): CandidateSensor {
  return {
    position: 'de',
    sisters: null,
    isOdd: false,
    baseline: null,
    dosePulses: 1000,
    runningMs: 1,
    since: T,
    isSinceFitted: true,
    ...known,
  };
}

function candidate(motor: string, known: Partial<Candidate> = {}): Candidate {
  return { motor, sensors: [place()], actions: [], findings: [], isUndecided: false, ...known };
}

function order(...candidates: Candidate[]): string[] {
  return rankCandidates(candidates).lines.map(({ motor }) => motor);
}

const odd = place({ sisters: between(4.8, 6.1, 7.9), isOdd: true });
const fluted = { end: 'de', at: T, modes: [], signs: ['fluting'], lubricant: [], isRemoved: false };

describe('the plan list', () => {
  it('orders by the strongest ground: seen damage, odd one out, risen, remedy without effect, nothing', () => {
    const list = [
      candidate('nothing'),
      candidate('stuck', {
        sensors: [place({ sisters: between(0.9, 1.4, 2) })],
        actions: [action('regreased', { effect: between(0.9, 1, 1.1) })],
      }),
      candidate('risen', { sensors: [place({ baseline: between(1.2, 1.5, 1.9) })] }),
      candidate('odd', { sensors: [odd] }),
      candidate('seen', { findings: [fluted] }),
    ];
    expect(order(...list)).toEqual(['seen', 'odd', 'risen', 'stuck', 'nothing']);
    expect(rankCandidates(list).lines.map(({ rank }) => rank)).toEqual([1, 2, 3, 4, 5]);
  });

  it('within a ground the surer excess comes first, then the dose, then the name', () => {
    const surer = candidate('surer', { sensors: [place({ baseline: between(1.9, 2, 2.1) })] });
    const larger = candidate('larger', { sensors: [place({ baseline: between(1.1, 4, 15) })] });
    expect(order(larger, surer)).toEqual(['surer', 'larger']);
    const dosed = candidate('dosed', { sensors: [place({ dosePulses: 5000 })] });
    expect(order(candidate('b'), candidate('a'), dosed)).toEqual(['dosed', 'a', 'b']);
  });

  it('among many that have not risen, one lower limit just above 1 is chance, and said to be', () => {
    const barely = candidate('barely', { sensors: [place({ baseline: between(1.02, 1.3, 1.66) })] });
    expect(rankCandidates([barely]).lines[0]!.ground).toBe('risen');
    const steady = Array.from({ length: 60 }, (_, i) =>
      candidate(`steady-${i}`, { sensors: [place({ baseline: between(0.8, 1, 1.25) })] }),
    );
    const surely = candidate('surely', { sensors: [place({ baseline: between(1.9, 2.4, 3) })] });
    const { lines } = rankCandidates([...steady, barely, surely]);
    expect(lines.filter(({ ground }) => ground === 'risen').map(({ motor }) => motor)).toEqual(['surely']);
    const told = lines.find(({ motor }) => motor === 'barely')!;
    expect(told.ground).toBe('no-ground');
    expect(told.reason).toContain('times its own baseline, as chance alone brings among so many');
  });

  it('dose alone never lifts a motor over one with a ground', () => {
    const old = candidate('old', { sensors: [place({ dosePulses: 9e9 })] });
    expect(order(old, candidate('odd', { sensors: [odd] }))).toEqual(['odd', 'old']);
  });

  it('damage counts until the bearing at that end was replaced, spent grease until it was renewed', () => {
    const replaced = (end: string | null, days: number): Candidate =>
      candidate('m', {
        findings: [fluted],
        actions: [action('bearing-replaced', { end, bearing: 'same', at: T + days * 86_400_000 })],
      });
    const ground = (each: Candidate): string | undefined => rankCandidates([each]).lines[0]?.ground;
    expect(ground(replaced('de', 1))).toBe('no-ground');
    expect(ground(replaced('both', 1))).toBe('no-ground');
    expect(ground(replaced('nde', 1))).toBe('seen-damage');
    expect(ground(replaced('de', -1))).toBe('seen-damage');
    expect(ground(candidate('m', { findings: [{ ...fluted, isRemoved: true }] }))).toBe('no-ground');
    const burnt = { end: 'de', at: T, modes: [], signs: [], lubricant: ['burnt'], isRemoved: false };
    const regreased = action('regreased', { end: 'de', at: T + 1 });
    expect(ground(candidate('m', { findings: [burnt] }))).toBe('seen-damage');
    expect(ground(candidate('m', { findings: [burnt], actions: [regreased] }))).toBe('no-ground');
  });

  it('says in one line why: ratio, what was tried, dose since the bearing was fitted', () => {
    const [line] = rankCandidates([
      candidate('booster-4', {
        sensors: [{ ...odd, dosePulses: 3_141_593 }],
        actions: [action('shaft-earthing-fitted', { at: T, effect: between(0.9, 1, 1.1) })],
      }),
    ]).lines;
    expect(line?.reason).toBe(
      'DE 6.1 (4.8 to 7.9) times the median of its group; shaft earthing fitted of 2026-02-03 did not lower it; ' +
        '3.1 million running pulses at DE since its bearing was fitted on 2026-02-03',
    );
    const undecided = candidate('m', { sensors: [odd], isUndecided: true });
    expect(rankCandidates([undecided]).lines[0]?.reason).toContain('which is odd cannot be told');
  });

  it('gives no remaining life, and says why', () => {
    const list = rankCandidates([candidate('m')]);
    expect(list.standing).toBe(NO_REMAINING_LIFE);
    expect(list.standing).toContain('none is published');
    expect(JSON.stringify(list.lines)).not.toMatch(/remaining|life/);
  });
});

describe('days without a clock', () => {
  it('agree with the calendar, over leap days and centuries', () => {
    for (let day = -150_000; day < 150_000; day += 97) {
      const at = day * 86_400_000 + 12_345;
      expect(dayOf(at)).toBe(new Date(at).toISOString().slice(0, 10));
    }
    for (const text of ['2000-02-29', '2024-02-29', '2100-02-28', '2100-03-01', '1970-01-01'])
      expect(dayOf(Date.parse(text))).toBe(text);
  });
});
