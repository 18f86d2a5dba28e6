/**
 * `zone-burst`: interference that goes on being heard on several motors of a zone. Single bursts are set aside without a word,
 * which is what the class `common` is for; a series of them has a source that can be found. A notice for the reliability
 * engineer: nothing is wrong with the motors, and no operator need answer.
 * Source: our choice. Three of the last six ten-minute spells, so that neither a contactor nor one welding job makes a
 * series, and a source that comes each quarter of an hour does; chance does not: three motors in one window of 10 s at a tail
 * of 1e-4 each.
 */
import { alarmOf, transition } from './alarm.js';
import type { AlarmRecord, Evidence } from './alarm-rows.js';
import { mostAtOnce } from './common.js';
import type { AlarmAdvice } from './plan.js';
import type { Burst } from './rows.js';
import { floorTo, type CoreState, type ZoneState } from './state.js';

const SPELL_MS = 600_000;
const LOOK_BACK_MS = 3_600_000;
const SPELLS_MIN = 3;

export const ZONE_BURST_ADVICE: AlarmAdvice = {
  consequence:
    'These pulses are in the class common and in no rate; the time that is left to count in shrinks.',
  action: 'Find what is switched, welded or driven at these times near the zone.',
  rationale: 'What several motors hear at once does not come from their bearings.',
  class: 'notice',
  timeToRespondMs: null,
};

/** Looks at the bursts of every zone that has some; with the plain conditions. */
export function watchBursts(state: CoreState): void {
  for (const zone of state.zones.values()) {
    const record = state.alarms.get(`zone-${zone.key}.zone-burst`);
    if (zone.bursts.length === 0 && record?.active !== true) continue;
    const recent = zone.bursts.filter(({ to }) => to > state.now - LOOK_BACK_MS);
    if (record?.active === true) {
      if (recent.length === 0)
        giveBack(state, record, `zone ${zone.key}: no burst on several motors at once for an hour`);
    } else if (recent.length >= SPELLS_MIN * state.plan.common.motorsMin) raiseSeries(state, zone, recent);
  }
  for (const record of [...state.alarming.awake]) {
    if (record.kind !== 'zone-burst' || !record.active) continue;
    const zone = record.motor.slice('zone-'.length);
    if (!state.zones.has(zone)) giveBack(state, record, `zone ${zone}: the configuration no longer has it`);
  }
}

/** Distinct spells of ten minutes in which so many motors burst at one instant that the burst is common. */
function commonSpells(recent: readonly Burst[], motorsMin: number): number[] {
  const spells = new Set<number>();
  for (const { from, to } of recent) {
    const spell = floorTo(from, SPELL_MS);
    if (spells.has(spell)) continue;
    const around = recent.filter((other) => other.from < to && other.to > from);
    if (around.length >= motorsMin && mostAtOnce(around, from, to) >= motorsMin) spells.add(spell);
  }
  return [...spells].sort((a, b) => a - b);
}

function raiseSeries(state: CoreState, zone: ZoneState, recent: readonly Burst[]): void {
  const spells = commonSpells(recent, state.plan.common.motorsMin);
  if (spells.length < SPELLS_MIN) return;
  const motors = [...new Set(recent.map(({ motor }) => motor))].sort();
  const id = `zone-${zone.key}.zone-burst`;
  const head = { id, motor: `zone-${zone.key}`, alarm: 'zone-burst', sensor: null, kind: 'zone-burst' };
  const record = alarmOf(state, { ...head, priority: 'low' });
  const says = `zone ${zone.key}: bursts on several motors at once in ${spells.length} of the last 6 spells of ten minutes (${motors.join(', ')}): something near the zone is heard by all of them`;
  const evidence = evidenceOf(state, spells[0]!, says);
  transition(state, record, { kind: 'raise', at: state.now, evidence, latching: false });
}

function giveBack(state: CoreState, record: AlarmRecord, says: string): void {
  const evidence = evidenceOf(state, state.now - LOOK_BACK_MS, says);
  transition(state, record, { kind: 'return', at: state.now, evidence });
}

function evidenceOf(state: CoreState, from: number, says: string): Evidence {
  const none = { ratePerMin: null, lowerPerMin: null, upperPerMin: null };
  const setting = { setpointPerMin: null, deadbandPerMin: null, onDelayMs: 0, offDelayMs: 0 };
  return {
    ...{ from, to: state.now, pulses: 0, exposureMs: 0, ...none, dispersion: null, confidence: null },
    ...{ ...setting, strip: [], configuration: state.plan.revision, says },
  };
}
