/** The section `modbus`: where the register map is served, in which order, and which motor has which slot. */
import * as z from 'zod';
import { endpointText } from './endpoint.js';
import { list, mapping, milliseconds, name, namePattern, oneOf, wholeNumber } from './leaves.js';

export const WORD_ORDERS = ['ABCD', 'CDAB', 'BADC', 'DCBA'] as const;
/** Most positions that a slot has room for. */
const POSITIONS_MAX = 10;

export const staleLimit = milliseconds(
  1_000,
  86_400_000,
  'A value older than this is told as unknown. Absent: three reporting intervals of the sensor and 90 s.',
).optional();

export const modbusSection = mapping(
  {
    listen: endpointText(
      '127.0.0.1:1502',
      'HOST:PORT of the Modbus TCP server. Whoever can connect can read everything: Modbus has no logins.',
    ),
    unitId: wholeNumber(1, 247, '', 'Unit that it answers as, beside 0 and 255.').default(1),
    wordOrder: oneOf(
      WORD_ORDERS,
      'Order of the bytes of a 32-bit value over its two registers; A is the highest.',
    ).default('ABCD'),
    positions: list(
      name('A position.'),
      'positions',
      'Positions that the map has places for, in their order. A longer list may move every address.',
    )
      .min(1, { error: 'at least one position' })
      .max(POSITIONS_MAX, { error: `at most ${POSITIONS_MAX} positions` })
      .default(['de', 'nde']),
    slots: z
      .record(
        namePattern('A motor; braces take slots one after the other.'),
        wholeNumber(1, 1_023, '', 'Slot.'),
        {
          error: 'a mapping of motors to slots',
        },
      )
      .optional()
      .meta({
        description:
          'Slot of each motor in the map. Motors without one are not in the map. Absent: in the order of the file, kept in the data directory.',
      }),
    clientsMax: wholeNumber(1, 500, 'clients', 'Most connections at a time.').default(100),
    idleMs: milliseconds(1_000, 3_600_000, 'A connection without a request for so long is ended.').default(
      120_000,
    ),
    staleMs: staleLimit,
  },
  'Read-only registers for PLC and HMI over Modbus TCP. Absent: no such server.',
);
