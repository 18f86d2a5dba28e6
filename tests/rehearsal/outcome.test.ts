/** What a rehearsal answers over a past of minutes and hours alone, as is left when increments have gone. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { NOT_REHEARSED } from '../../src/rehearsal/kinds.js';
import type { Rehearsal } from '../../src/rehearsal/outcome.js';
import { RehearsalRefusal } from '../../src/rehearsal/rehearse.js';
import { writeMinuteStore, type StoredAlarmEntry } from '../support/minute-store.js';
import { alarmOf, BEGIN, DAY_MS, HOUR_MS, planPlant, play } from './plants.js';

const folder = mkdtempSync(join(tmpdir(), 'rehearsal-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const running = planPlant({ more: 'sinks: [{ name: lake, kind: files, folder: out }]' });
const ID = 'pump-1.de-rate-high';

/** pump-1: 40 a minute, 75 for three hours of the second day, 150 for four hours of the sixth, when the first is out of the dispersion; pump-2: 40. */
function rateOfFirst(minute: number): number {
  const hour = (minute - BEGIN) / HOUR_MS;
  if (hour >= 30 && hour < 33) return 75;
  return hour >= 120 && hour < 124 ? 150 : 40;
}

const word = (hour: number, what: StoredAlarmEntry['what'], who = '', configuration = running.revision) => ({
  ...{ at: BEGIN + hour * HOUR_MS, subject: ID, what, who, configuration },
});
const JOURNAL: StoredAlarmEntry[] = [
  word(30.5, 'raised'),
  word(31, 'acknowledged', 'K. Desk'),
  word(33.5, 'returned'),
  word(120.3, 'raised'),
  word(121, 'acknowledged', 'K. Desk'),
  word(123, 'confirmed', 'J. Field'),
  word(124.4, 'returned'),
  word(140, 'raised', '', 'old-one'),
  word(140.5, 'returned', '', 'old-one'),
];

function makeStore(name: string, journal = JOURNAL): string {
  const dir = join(folder, name);
  writeMinuteStore(dir, {
    sensors: [
      { sensor: 'pump-1/de', at: rateOfFirst },
      { sensor: 'pump-2/de', at: () => 40 },
    ],
    ...{ from: BEGIN, hours: 160, seed: 3, journal },
    findings: [
      { motor: 'pump-1', end: 'de', at: BEGIN + 150 * HOUR_MS },
      { motor: 'pump-2', end: 'de', at: BEGIN + 150 * HOUR_MS },
    ],
  });
  return dir;
}

let dataDir: string;
let found: Rehearsal;
beforeAll(() => {
  dataDir = makeStore('plain');
  found = play(dataDir, running, planPlant({ setpointPerMin: 110 }));
});

describe('a higher setpoint', () => {
  it('raises for the large rise alone, and stands only then', () => {
    const { running: was, candidate: is, differs } = alarmOf(found, ID);
    expect([was!.raised, is!.raised, differs]).toEqual([2, 1, true]);
    expect(was!.activations[0]!.from).toBeGreaterThan(BEGIN + 30 * HOUR_MS);
    expect(was!.activations[0]!.from).toBeLessThan(BEGIN + 30.5 * HOUR_MS);
    expect(is!.activations[0]!.from).toBeGreaterThan(BEGIN + 120 * HOUR_MS);
    expect(is!.activations[0]!.from).toBeLessThan(BEGIN + 120.5 * HOUR_MS);
    expect(is!.stoodMs).toBeLessThan(was!.stoodMs - 2 * HOUR_MS);
    expect(alarmOf(found, 'pump-2.de-rate-high').conclusion).toBe('No difference: raised never.');
  });

  it('misses what the operator acknowledged, and catches what was confirmed', () => {
    const alarm = alarmOf(found, ID);
    expect([alarm.events, alarm.missed]).toEqual([2, 1]);
    const own = found.events.filter((event) => event.alarm === ID);
    expect(own.map(({ what, who, candidate, running: was }) => [what, who, candidate.by, was.by])).toEqual([
      ['acknowledged', 'K. Desk', null, ID],
      ['confirmed', 'J. Field', ID, ID],
    ]);
    expect(Math.abs(own[1]!.candidate.delayMs!)).toBeLessThan(HOUR_MS);
    expect(alarm.conclusion).toContain('Of 2 that a person acknowledged or confirmed, 1 would be MISSED.');
    expect(found.conclusion).toContain('Of 4 confirmed events 2 would be MISSED, 1 of them newly.');
  });

  it('sets what inspections found beside the alarms that stood before', () => {
    const findings = found.events.filter(({ what }) => what === 'finding');
    expect(findings.map(({ sensor, candidate }) => [sensor, candidate.by])).toEqual([
      ['pump-1/de', ID],
      ['pump-2/de', null],
    ]);
    expect(findings[0]!.says).toBe('an inspection of pump-1/de found fluting');
  });

  it('says of each difference from the journal what the store tells of its reason', () => {
    const differences = alarmOf(found, ID).journalDifferences;
    const other = differences.filter(({ reason }) => reason === 'another-configuration');
    expect(other.map(({ what, from }) => [what, (from - BEGIN) / HOUR_MS])).toEqual([
      ['only-in-journal', 140],
    ]);
    expect(other[0]!.says).toBe(`configuration old-one was in force, not ${running.revision}`);
    expect(differences.filter(({ reason }) => reason === 'unexplained').length).toBe(differences.length - 1);
  });
});

describe('what cannot be rehearsed', () => {
  it('is said of every alarm of every such kind, with its reason and what the journal has', () => {
    const left = found.alarms.filter(({ notRehearsed }) => notRehearsed !== '');
    expect([...new Set(left.map(({ kind }) => kind))].sort()).toEqual(Object.keys(NOT_REHEARSED).sort());
    for (const { kind, notRehearsed, running: was, candidate: is, conclusion } of left) {
      expect(notRehearsed).toBe(NOT_REHEARSED[kind as keyof typeof NOT_REHEARSED]);
      expect([was, is]).toEqual([null, null]);
      expect(conclusion).toContain('Not rehearsed');
    }
  });

  it('a changed gate is refused', () => {
    const candidate = planPlant({ more: 'gate: { capMs: 1000 }' });
    expect(() => play(dataDir, running, candidate)).toThrow(RehearsalRefusal);
  });

  it('a time that holds nothing is refused with what is stored', () => {
    const later = { from: BEGIN + 200 * DAY_MS, to: null };
    expect(() => play(dataDir, running, running, later)).toThrow(/no minutes between these times/);
    expect(() => play(dataDir, planPlant({ motors: 'fan-1' }), planPlant({ motors: 'fan-1' }))).toThrow(
      /no minutes of these sensors/,
    );
  });

  it('a motor without history is said, and raises nothing', () => {
    const wide = planPlant({ motors: 'pump-{1..3}' });
    const { notes, alarms } = play(dataDir, running, wide);
    expect(notes.join('\n')).toContain('sensor pump-3/de has no history');
    const third = alarms.find(({ id }) => id === 'pump-3.de-rate-high')!;
    expect([third.running, third.candidate!.raised]).toEqual([null, 0]);
    expect(third.conclusion).toBe('New with the candidate: raised never.');
  });
});

describe('the time rehearsed', () => {
  it('begins with what stood then, warmed up from all that is stored before', () => {
    const from = BEGIN + 121 * HOUR_MS;
    const late = alarmOf(play(dataDir, running, running, { from, to: null }), ID);
    expect(late.running).toMatchObject({ raised: 0, standsAtStart: true });
    expect(late.conclusion).toContain('standing already at the start');
  });

  it('ends where it should', () => {
    const to = BEGIN + 122 * HOUR_MS;
    const early = alarmOf(play(dataDir, running, running, { from: null, to }), ID);
    expect(early.running).toMatchObject({ raised: 2, standsAtEnd: true });
    expect(early.running!.activations[1]!.to).toBeNull();
  });
});

it('an alarm that the candidate takes away would miss its events', () => {
  const bare = { ...running, rateAlarms: running.rateAlarms.filter(({ id }) => id !== ID) };
  const alarm = alarmOf(play(dataDir, running, bare), ID);
  expect([alarm.candidate, alarm.differs, alarm.missed]).toEqual([null, true, 2]);
  expect(alarm.conclusion).toContain('The candidate does not have it.');
});
