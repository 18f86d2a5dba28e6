/**
 * One Modbus request to its answer. Only reading is answered: function 3 and 4, both over the same registers, because
 * masters differ in which they can ask. Everything else is an illegal function, so that no write can seem to work.
 * Source: MODBUS Application Protocol V1.1b3 sections 6.3, 6.4 and 7, and the TCP/IP guide V1.0b 3.1.3, from memory.
 */

export const Fault = {
  illegalFunction: 1,
  illegalAddress: 2,
  illegalValue: 3,
  /** gateway target device failed to respond: nobody of that unit is here */
  noSuchUnit: 0x0b,
} as const;

const READ_HOLDING = 3;
const READ_INPUT = 4;
/** What one answer can hold. */
const REGISTERS_MAX = 125;
const REQUEST_BYTES = 5;

/** Units that a server which is no gateway to a serial line is asked as, whatever its own. */
const ANY_UNITS = [0, 255];

/** `pdu`: function and data of the request. `image`: all registers, two bytes each. Returns the answer's PDU. */
export function answerRequest(pdu: Buffer, unit: number, ownUnit: number, image: Buffer): Buffer {
  const code = pdu[0] ?? 0;
  if (unit !== ownUnit && !ANY_UNITS.includes(unit)) return refuse(code, Fault.noSuchUnit);
  if (code !== READ_HOLDING && code !== READ_INPUT) return refuse(code, Fault.illegalFunction);
  if (pdu.length !== REQUEST_BYTES) return refuse(code, Fault.illegalValue);
  const address = pdu.readUInt16BE(1);
  const count = pdu.readUInt16BE(3);
  if (count < 1 || count > REGISTERS_MAX) return refuse(code, Fault.illegalValue);
  if (2 * (address + count) > image.length) return refuse(code, Fault.illegalAddress);
  const answer = Buffer.allocUnsafe(2 + 2 * count);
  answer[0] = code;
  answer[1] = 2 * count;
  image.copy(answer, 2, 2 * address, 2 * (address + count));
  return answer;
}

function refuse(code: number, fault: number): Buffer {
  return Buffer.from([(code | 0x80) & 0xff, fault]);
}
