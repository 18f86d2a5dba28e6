/** The judge of the crash runs must see what it is there for. */
import { describe, expect, it } from 'vitest';
import { countOf } from './publisher.js';
import { ReadingJudge } from './verdict.js';

const claim = { sensor: 'm1/de', acked: 5, sent: 7 };

function rows(...seqs: number[]): { sensor: string; seq: number; count: number; pulses: number }[] {
  return seqs.map((seq) => ({
    sensor: 'm1/de',
    seq,
    count: countOf(seq),
    pulses: seq === 0 ? 0 : countOf(seq) - countOf(seq - 1),
  }));
}

function judge(stored: ReturnType<typeof rows>): string[] {
  const made = new ReadingJudge([claim]);
  for (const row of stored) made.take(row);
  return made.conclude();
}

describe('judge of stored readings', () => {
  it('all acknowledged, or a few more that nobody was told of: nothing to find', () => {
    expect(judge(rows(0, 1, 2, 3, 4))).toEqual([]);
    expect(judge(rows(0, 1, 2, 3, 4, 5, 6))).toEqual([]);
  });

  it('a lost reading at the end', () => {
    expect(judge(rows(0, 1, 2, 3))).toEqual(['m1/de: 5 readings acknowledged, only 4 stored']);
  });

  it('a lost reading in between', () => {
    expect(judge(rows(0, 1, 3, 4))).toEqual(['m1/de: readings 2 to 2 are missing']);
  });

  it('a doubled reading', () => {
    expect(judge(rows(0, 1, 1, 2, 3, 4))).toEqual(['m1/de: reading 1 is stored twice, or out of order']);
  });

  it('pulses that do not follow from the counts', () => {
    const stored = rows(0, 1, 2, 3, 4);
    stored[2]!.pulses += 1;
    expect(judge(stored)).toEqual(['m1/de: reading 2 counted 4 pulses instead of 3']);
  });

  it('readings that nobody sent', () => {
    expect(judge(rows(0, 1, 2, 3, 4, 5, 6, 7))).toEqual(['m1/de: 8 readings stored, only 7 sent']);
  });
});
