/**
 * Which motor has which slot of the register map. A PLC reads by number, so a motor keeps its slot whatever comes or goes
 * beside it: slots are either written into the configuration, or given in the order of the file and kept from then on.
 */
import { countSlots } from '../../shared/register-slots.js';

/** The next slot that nobody has or had; null: the map is full. */
export function nextSlot(taken: Iterable<number>, slotsMax: number): number | null {
  const next = Math.max(0, ...taken) + 1;
  return next <= slotsMax ? next : null;
}

export interface SlotAssignment {
  readonly slots: ReadonlyMap<string, number>;
  /** motors for which the map has no slot */
  readonly missing: readonly string[];
}

/**
 * Gives a slot to each motor. `given`: from the configuration, null: none; only these motors are in the map then. `kept`:
 * what was given before; slots of motors that are gone stay theirs, so that a PLC never reads a stranger.
 */
export function assignSlots(
  motors: readonly string[],
  given: ReadonlyMap<string, number> | null,
  kept: ReadonlyMap<string, number>,
  positions: number,
): SlotAssignment {
  const most = countSlots(positions);
  if (given !== null) {
    const present = motors.filter((motor) => given.has(motor));
    return {
      slots: new Map(present.map((motor) => [motor, given.get(motor)!])),
      missing: motors.filter((motor) => !given.has(motor)),
    };
  }
  const slots = new Map<string, number>();
  const missing: string[] = [];
  const taken = new Set(kept.values());
  for (const motor of motors) {
    const slot = kept.get(motor) ?? nextSlot(taken, most);
    if (slot === null || slot > most) {
      missing.push(motor);
      continue;
    }
    slots.set(motor, slot);
    taken.add(slot);
  }
  return { slots, missing };
}
