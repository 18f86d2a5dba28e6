/**
 * Where blocks stand in the Modbus register map: a header, then one slot per motor with a block for the motor and one for
 * each position. Part of the contract, because control systems are programmed by these numbers.
 */

export const HEADER_REGISTERS = 64;
export const MOTOR_REGISTERS = 16;
export const SENSOR_REGISTERS = 24;

const REGISTERS_MAX = 65_536;
const STRIDE_LEAST = 64;

/** Registers from one slot to the next, a power of two so that addresses are easy to check by eye: 64 for two positions. */
export function strideOf(positions: number): number {
  const needed = MOTOR_REGISTERS + SENSOR_REGISTERS * positions;
  return Math.max(STRIDE_LEAST, 2 ** Math.ceil(Math.log2(needed)));
}

/** Slots count from 1; the header is before them. */
export function countSlots(positions: number): number {
  return Math.floor((REGISTERS_MAX - HEADER_REGISTERS) / strideOf(positions));
}

/** Address of the first register of a slot, from 0. */
export function addressOfSlot(slot: number, positions: number): number {
  return HEADER_REGISTERS + (slot - 1) * strideOf(positions);
}
