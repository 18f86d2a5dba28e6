/** The whole map of a site: which block stands where, and the list of registers that people print. Pure. */
import { addressOfSlot, MOTOR_REGISTERS, SENSOR_REGISTERS, strideOf } from '../../shared/register-slots.js';
import type { Plant, PlantMotor, PlantSensor } from './plant.js';
import {
  HEADER_FIELDS,
  MOTOR_FIELDS,
  SENSOR_FIELDS,
  type Field,
  type RegisterType,
} from './register-fields.js';
import { UNKNOWN_U16, UNKNOWN_U32 } from './word-order.js';

/** What only information is may not become a part of a protection. Stands in the printed map and in the documentation. */
export const MAP_CAUTION =
  'For information only: never an interlock, a trip or a protection input. A count is no severity and zero no proof of health. Modbus asks nobody who they are.';

export interface MotorBlock {
  readonly motor: PlantMotor;
  readonly slot: number;
  readonly address: number;
  readonly sensors: readonly { readonly sensor: PlantSensor; readonly address: number }[];
}

export interface RegisterMap {
  readonly blocks: readonly MotorBlock[];
  /** registers from 0; beyond them there is nothing to read */
  readonly length: number;
  /** 32 bits over all addresses and what stands there */
  readonly fingerprint: number;
  /** sensors at positions that the map has no place for */
  readonly left: readonly string[];
}

/** `slots`: of the motors that are in it. `positions`: in the order of their places. */
export function layOutMap(
  plant: Plant,
  slots: ReadonlyMap<string, number>,
  positions: readonly string[],
): RegisterMap {
  const blocks = plant.motors
    .flatMap((motor) => {
      const slot = slots.get(motor.key);
      return slot === undefined ? [] : [layOutBlock(plant, motor, slot, positions)];
    })
    .sort((a, b) => a.slot - b.slot);
  const last = blocks[blocks.length - 1];
  const stride = strideOf(positions.length);
  const places = blocks.flatMap(({ motor, address, sensors }) => [
    `${motor.key}@${address}`,
    ...sensors.map((one) => `${one.sensor.key}@${one.address}`),
  ]);
  return {
    blocks,
    length: last === undefined ? addressOfSlot(1, positions.length) : last.address + stride,
    fingerprint: hashText(places.join('\n')),
    left: plant.sensors
      .filter(({ motor, position }) => slots.has(motor) && !positions.includes(position))
      .map(({ key }) => key),
  };
}

function layOutBlock(
  plant: Plant,
  motor: PlantMotor,
  slot: number,
  positions: readonly string[],
): MotorBlock {
  const address = addressOfSlot(slot, positions.length);
  const sensors = plant.sensors
    .filter((sensor) => sensor.motor === motor.key && positions.includes(sensor.position))
    .map((sensor) => ({
      sensor,
      address: address + MOTOR_REGISTERS + SENSOR_REGISTERS * positions.indexOf(sensor.position),
    }));
  return { motor, slot, address, sensors };
}

/** FNV-1a, 32 bits. Source: the algorithm's published constants, from memory; it guards against mistakes, not against intent. */
function hashText(text: string): number {
  let hash = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193) >>> 0;
  return hash;
}

/** One line of the printed map. */
export interface RegisterRow {
  /** as it goes over the wire, from 0 */
  readonly address: number;
  /** the same counted from 1 */
  readonly number: number;
  readonly registers: number;
  readonly type: RegisterType;
  /** the register holds the value times this */
  readonly scale: number;
  readonly unit: string;
  /** what reads as unknown; null: it always has a value */
  readonly unknown: number | null;
  /** `gateway`, a motor, or `motor/position` */
  readonly subject: string;
  readonly name: string;
  readonly meaning: string;
}

export function listRegisters(map: RegisterMap): RegisterRow[] {
  return [
    ...listFields(HEADER_FIELDS, 0, 'gateway'),
    ...map.blocks.flatMap(({ motor, address, sensors }) => [
      ...listFields(MOTOR_FIELDS, address, motor.key),
      ...[...sensors]
        .sort((a, b) => a.address - b.address)
        .flatMap((one) => listFields(SENSOR_FIELDS, one.address, one.sensor.key)),
    ]),
  ];
}

function listFields<View>(fields: readonly Field<View>[], start: number, subject: string): RegisterRow[] {
  return fields.map(({ offset, type, scale, unit, name, meaning, isBits }) => ({
    ...{ address: start + offset, number: start + offset + 1, registers: type === 'uint32' ? 2 : 1, type },
    ...{ scale, unit, unknown: isBits === true ? null : type === 'uint32' ? UNKNOWN_U32 : UNKNOWN_U16 },
    ...{ subject, name, meaning },
  }));
}
