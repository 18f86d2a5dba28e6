import { describe, expect, it } from 'vitest';
import type { DriveFact, Fact, ReadingFact } from '../../src/core/facts.js';
import { Presence } from '../../src/engine/presence.js';

const drive = (motor: string, receivedAt: number): DriveFact => ({
  ...{ kind: 'drive', motor, state: 'running', modulating: true, at: null, since: null, speedRpm: null },
  ...{ loadPct: null, switchingKhz: null, dcLinkV: null, receivedAt },
});
const reading = (sensor: string, receivedAt: number): ReadingFact => ({
  ...{
    kind: 'reading',
    sensor,
    device: 'SN',
    count: 1,
    at: null,
    seq: null,
    boot: null,
    upMs: null,
    temperatureC: null,
  },
  ...{ check: false, receivedAt },
});

function tell(facts: readonly Fact[]): string[] {
  return facts.map((fact) => {
    if (fact.kind === 'drive-presence')
      return `${fact.motor} ${fact.online ? 'present' : 'absent'} at ${fact.receivedAt}`;
    if (fact.kind === 'sensor-presence')
      return `${fact.sensor} ${fact.online ? 'online' : 'offline'} at ${fact.receivedAt}`;
    return fact.kind;
  });
}

/** Runs a story and returns what the core is told. */
function run(story: (presence: Presence, facts: Fact[]) => void, presence = new Presence()): string[] {
  const facts: Fact[] = [];
  story(presence, facts);
  return tell(facts);
}

describe('the end of a session', () => {
  it('unclean: the drives it reported become absent, its sensors offline', () => {
    const told = run((presence, facts) => {
      presence.take('panel', drive('pump-1', 1), facts);
      presence.take('panel', reading('pump-2/de', 2), facts);
      presence.endSession('panel', false, 9, facts);
    });
    expect(told).toEqual(['drive', 'reading', 'pump-1 absent at 9', 'pump-2/de offline at 9']);
  });

  it('clean: nothing is taken away', () => {
    const told = run((presence, facts) => {
      presence.take('panel', drive('pump-1', 1), facts);
      presence.endSession('panel', true, 9, facts);
    });
    expect(told).toEqual(['drive']);
  });

  it('after its will: said once', () => {
    const told = run((presence, facts) => {
      presence.take('panel', drive('pump-1', 1), facts);
      presence.take(
        'panel',
        { kind: 'drive-presence', motor: 'pump-1', online: false, receivedAt: 9 },
        facts,
      );
      presence.endSession('panel', false, 9, facts);
    });
    expect(told).toEqual(['drive', 'pump-1 absent at 9']);
  });

  it('of a client whose place another has taken: nothing', () => {
    const told = run((presence, facts) => {
      presence.take('old', drive('pump-1', 1), facts);
      presence.take('new', drive('pump-1', 2), facts);
      presence.endSession('old', false, 9, facts);
    });
    expect(told).toEqual(['drive', 'drive']);
  });
});

it('any later message brings a drive and a sensor back, before it is told itself', () => {
  const told = run((presence, facts) => {
    presence.take('panel', drive('pump-1', 1), facts);
    presence.take('panel', reading('pump-1/de', 1), facts);
    presence.endSession('panel', false, 5, facts);
    facts.length = 0;
    presence.take('panel', drive('pump-1', 8), facts);
    presence.take('panel', reading('pump-1/de', 9), facts);
    presence.take('panel', reading('pump-1/de', 10), facts);
  });
  expect(told).toEqual(['pump-1 present at 8', 'drive', 'pump-1/de online at 9', 'reading', 'reading']);
});

describe('over a restart', () => {
  it('who had a session open is absent from the last tick on, until it speaks', () => {
    const before = new Presence();
    run((presence, facts) => presence.take('panel', drive('pump-1', 1), facts), before);
    expect(before.isChanged).toBe(true);
    const record = before.record();
    expect(before.isChanged).toBe(false);
    const after = new Presence();
    expect(tell(after.restore(null, record, 777))).toEqual(['pump-1 absent at 777']);
    expect(run((presence, facts) => presence.take('panel', drive('pump-1', 900), facts), after)).toEqual([
      'pump-1 present at 900',
      'drive',
    ]);
  });

  it('who had said goodbye is still taken to be there', () => {
    const before = new Presence();
    run((presence, facts) => {
      presence.take('panel', drive('pump-1', 1), facts);
      presence.endSession('panel', true, 2, facts);
    }, before);
    expect(new Presence().restore(null, before.record(), 777)).toEqual([]);
  });
});
