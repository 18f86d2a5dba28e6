/**
 * Random lives of one alarm through the core's front door, with restarts, outages and reloads anywhere, against a model that
 * is written from the standard's words and knows nothing of the table: what is shown, what is told, what is refused.
 */
import fc from 'fast-check';
import { expect, it } from 'vitest';
import { LinkRig, LOOK_MS } from '../support/link-rig.js';

const MIN_MS = 60_000;
const LATEST_MIN = 24 * 60;

/** An alarm as a person would keep it on paper. */
interface Model {
  now: number;
  latching: boolean;
  /** whether the condition holds, and whether anybody looks at it */
  isLost: boolean;
  isNamed: boolean;
  /** `standing`, or over; null: it never came up */
  alarm: { standing: boolean; seen: boolean; fixed: boolean; heard: boolean } | null;
  isLatched: boolean;
  shelf: { end: number; once: boolean } | null;
  isInService: boolean;
  isSuppressed: boolean;
  /** it has come up, or somebody has done something to it */
  isKnown: boolean;
  /** how often somebody was told of an activation */
  bells: number;
}

const isCovered = (m: Model): boolean => !m.isInService || m.shelf !== null || m.isSuppressed;

/** The bell rings for what stands, was not seen, was not heard of, and is not covered. */
function ring(m: Model): void {
  if (m.alarm === null || !m.alarm.standing || m.alarm.seen || m.alarm.heard || isCovered(m)) return;
  m.alarm.heard = true;
  m.bells += 1;
}

/** Ten seconds go by: shelves end, the configuration is followed, the condition is looked at. */
function look(m: Model): void {
  m.now += LOOK_MS;
  if (m.shelf !== null && m.shelf.end <= m.now) m.shelf = null;
  ring(m);
  m.isSuppressed = !m.isNamed && m.isKnown;
  ring(m);
  if (!m.isNamed) return;
  const stands = m.alarm?.standing ?? false;
  if (m.isLost && !stands) {
    m.alarm = { standing: true, seen: false, fixed: false, heard: false };
    m.isLatched = m.latching;
    m.isKnown = true;
    ring(m);
  }
  if (!m.isLost && stands) {
    m.alarm!.standing = false;
    if (m.shelf?.once === true) m.shelf = null;
    ring(m);
  }
}

function shown(m: Model): string {
  if (!m.isInService) return 'out-of-service';
  if (m.shelf !== null) return 'shelved';
  if (m.isSuppressed) return 'suppressed-by-design';
  if (m.alarm === null) return 'normal';
  const { standing, seen } = m.alarm;
  if (standing) return seen ? 'acknowledged' : 'unacknowledged';
  if (m.isLatched) return seen ? 'latched-acknowledged' : 'latched-unacknowledged';
  return seen ? 'normal' : 'returned-unacknowledged';
}

/** Why it was refused; null: it was done. */
function act(m: Model, verb: string, min: number): string | null {
  if (m.shelf !== null && m.shelf.end <= m.now) m.shelf = null;
  ring(m);
  if (!m.isKnown && !m.isNamed) return 'unknown-alarm';
  const refusal = tryAct(m, verb, min);
  if (refusal === null) m.isKnown = true;
  ring(m);
  return refusal;
}

function tryAct(m: Model, verb: string, min: number): string | null {
  const { alarm } = m;
  switch (verb) {
    case 'acknowledge':
      if (alarm === null || alarm.seen) return 'nothing-to-acknowledge';
      alarm.seen = true;
      return null;
    case 'confirm':
      if (alarm === null || alarm.fixed) return 'nothing-to-confirm';
      if (!alarm.seen) return 'acknowledge-first';
      alarm.fixed = true;
      return null;
    case 'reset':
      if (!m.isLatched) return 'not-latched';
      if (alarm!.standing) return 'still-active';
      if (!alarm!.seen) return 'acknowledge-first';
      m.isLatched = false;
      return null;
    case 'shelve':
    case 'shelve-once':
      if (min <= 0) return 'until-past';
      if (min > LATEST_MIN) return 'until-too-far';
      m.shelf = { end: m.now + min * MIN_MS, once: verb === 'shelve-once' };
      return null;
    case 'unshelve':
      if (m.shelf === null) return 'not-shelved';
      m.shelf = null;
      return null;
    case 'out-of-service':
      if (!m.isInService) return 'out-of-service-already';
      m.isInService = false;
      return null;
    default:
      if (m.isInService) return 'in-service-already';
      m.isInService = true;
      return null;
  }
}

function compare(m: Model, rig: LinkRig): void {
  const bells = rig.store.journal.filter(
    ({ annunciated, what }) => annunciated && what !== 'returned',
  ).length;
  expect([rig.state, bells]).toEqual([shown(m), m.bells]);
}

/** What goes on around the alarm; time goes on with it. */
class Happening implements fc.Command<Model, LinkRig> {
  constructor(
    readonly verb: 'lose' | 'regain' | 'wait' | 'drop-alarm' | 'name-alarm' | 'restart',
    readonly min: number,
  ) {}
  check = (): boolean => true;
  run(m: Model, rig: LinkRig): void {
    if (this.verb === 'lose') m.isLost = true;
    if (this.verb === 'regain') m.isLost = false;
    if (this.verb === 'drop-alarm') m.isNamed = false;
    if (this.verb === 'name-alarm') m.isNamed = true;
    const looks = this.verb === 'wait' ? Math.max(1, (this.min * MIN_MS) / LOOK_MS) : 1;
    for (let i = 0; i < looks; i++) look(m);
    rig.play(`${this.verb} ${this.min}`);
    compare(m, rig);
  }
  toString = (): string => `${this.verb} ${this.min}`;
}

class Act implements fc.Command<Model, LinkRig> {
  constructor(
    readonly verb: string,
    readonly min: number,
  ) {}
  check = (): boolean => true;
  run(m: Model, rig: LinkRig): void {
    expect(rig.play(`${this.verb} ${this.min}`)).toBe(act(m, this.verb, this.min));
    compare(m, rig);
  }
  toString = (): string => `${this.verb} ${this.min}`;
}

/** The gateway is down for so long; nothing is known of it before the next tick or act. */
class Outage implements fc.Command<Model, LinkRig> {
  constructor(readonly min: number) {}
  check = (): boolean => true;
  run(m: Model, rig: LinkRig): void {
    m.now += this.min * MIN_MS;
    rig.sleep(this.min * MIN_MS);
    compare(m, rig);
  }
  toString = (): string => `outage ${this.min}`;
}

const happening = (verb: Happening['verb']) => fc.constant(new Happening(verb, 0));
const acts = ['acknowledge', 'confirm', 'reset', 'unshelve', 'out-of-service', 'return'];
const commands = [
  ...(['lose', 'regain', 'lose', 'regain', 'restart', 'drop-alarm', 'name-alarm'] as const).map(happening),
  fc.integer({ min: 0, max: 40 }).map((min) => new Happening('wait', min)),
  ...acts.map((verb) => fc.constant(new Act(verb, 0))),
  fc.constant(new Act('acknowledge', 0)),
  fc
    .tuple(
      fc.constantFrom('shelve', 'shelve-once'),
      fc.constantFrom(0, 1, 5, 20, 60, LATEST_MIN, LATEST_MIN + 1),
    )
    .map(([verb, min]) => new Act(verb, min)),
  fc.integer({ min: 1, max: 90 }).map((min) => new Outage(min)),
];

it('lives as the model says, whatever happens in whatever order', () => {
  const states = new Set<string>();
  fc.assert(
    fc.property(fc.boolean(), fc.commands(commands, { maxCommands: 60, size: 'max' }), (latching, lived) => {
      const real = new LinkRig(latching);
      const model: Model = {
        ...{ now: real.now, latching, isLost: false, isNamed: true, isKnown: false, bells: 0 },
        ...{ alarm: null, isLatched: false, shelf: null, isInService: true, isSuppressed: false },
      };
      fc.modelRun(() => ({ model, real }), lived);
      states.add(shown(model));
    }),
    { numRuns: 400 },
  );
  expect(states.size).toBe(9);
});
