/**
 * Numbers as registers. Why four orders: Modbus fixes the bytes of one register (high byte first; MODBUS Application
 * Protocol V1.1b3 section 4.2, from memory), and nothing fixes the order of the two registers of a 32-bit value.
 */

/** Named by the order in which the bytes A (highest) to D go out. */
export const WORD_ORDERS = ['ABCD', 'CDAB', 'BADC', 'DCBA'] as const;
export type WordOrder = (typeof WORD_ORDERS)[number];

/** What unknown reads as; the largest value is one less. Our choice: all bits set, which no count comes near by chance. */
export const UNKNOWN_U16 = 0xffff;
export const UNKNOWN_U32 = 0xffff_ffff;

/** Whole, from 0 to the largest value, at which it stays; null: unknown. */
export function toWord(value: number | null, unknown: number): number {
  if (value === null || Number.isNaN(value)) return unknown;
  return Math.min(Math.max(Math.round(value), 0), unknown - 1);
}

export function writeU16(into: Buffer, register: number, value: number | null): void {
  into.writeUInt16BE(toWord(value, UNKNOWN_U16), 2 * register);
}

/** Two registers. Single registers are the same in every order. */
export function writeU32(into: Buffer, register: number, value: number | null, order: WordOrder): void {
  writeBits(into, register, toWord(value, UNKNOWN_U32), order);
}

/** All 32 bits as they are. */
export function writeBits(into: Buffer, register: number, bits: number, order: WordOrder): void {
  const at = 2 * register;
  for (let i = 0; i < 4; i++) into[at + i] = (bits >>> (8 * (3 - 'ABCD'.indexOf(order[i]!)))) & 0xff;
}
