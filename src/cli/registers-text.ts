/** The register map as text for people, CSV for engineering tools, JSON for programs, and as the slots of the configuration. */
import { MAP_CAUTION, type RegisterMap, type RegisterRow } from '../plc/register-map.js';
import { type Column, writeHeader, writeRows } from './table-text.js';
import { writeColumns, wrapText, TERMINAL_COLUMNS } from './text-columns.js';

export interface MapAbout {
  readonly site: string;
  readonly revision: string;
  readonly wordOrder: string;
}

const COLUMNS: readonly Column<RegisterRow>[] = [
  { name: 'address', take: (row) => row.address },
  { name: 'number', take: (row) => row.number },
  { name: 'registers', take: (row) => row.registers },
  { name: 'type', take: (row) => row.type },
  { name: 'scale', take: (row) => row.scale },
  { name: 'unit', take: (row) => row.unit },
  { name: 'unknown', take: (row) => row.unknown },
  { name: 'subject', take: (row) => row.subject },
  { name: 'name', take: (row) => row.name },
  { name: 'meaning', take: (row) => row.meaning },
];

export function writeRegisterCsv(rows: readonly RegisterRow[]): string {
  return writeHeader(COLUMNS, 'csv') + writeRows(rows, COLUMNS, 'csv');
}

export function writeRegisterJson(map: RegisterMap, rows: readonly RegisterRow[], about: MapAbout): string {
  const { site, revision, wordOrder } = about;
  const head = { site, configuration: revision, word_order: wordOrder, map: hex(map.fingerprint) };
  const slots = Object.fromEntries(map.blocks.map(({ motor, slot }) => [motor.key, slot]));
  return `${JSON.stringify({ ...head, caution: MAP_CAUTION, slots, left_out: map.left, registers: rows }, null, 2)}\n`;
}

/** What each name means once, then every register with its two addresses. */
export function writeRegisterText(map: RegisterMap, rows: readonly RegisterRow[], about: MapAbout): string {
  const head = [
    `Registers of ${about.site}, configuration ${about.revision}, map ${hex(map.fingerprint)}, word order ${about.wordOrder}.`,
    MAP_CAUTION,
    'Function 3 (holding registers) and function 4 (input registers) read the same. "address" counts from 0, as it goes over the wire; "number" counts from 1, as 40001 or 30001 for the first. Unknown reads as 65535 in one register and as 4294967295 in two; nothing is shown for longer than it holds.',
  ];
  const kinds = new Map<string, RegisterRow>();
  for (const row of rows) {
    const key = `${describeSubject(row.subject)} ${row.name}`;
    if (!kinds.has(key)) kinds.set(key, row);
  }
  const legend = [...kinds.values()].map((row) => [
    describeSubject(row.subject),
    row.name,
    row.type,
    row.scale === 1 ? '' : `x${row.scale}`,
    row.unit,
    row.meaning,
  ]);
  const places = rows.map((row) => [
    String(row.address),
    String(row.number),
    String(row.registers),
    row.subject,
    row.name,
  ]);
  const left =
    map.left.length === 0
      ? []
      : [`Not in the map, because modbus.positions has no place for them: ${map.left.join(', ')}.`];
  return [
    ...[...head, ...left]
      .flatMap((text) => [...wrapText(text, TERMINAL_COLUMNS), ''])
      .map((line) => `${line}\n`),
    writeColumns(['of', 'name', 'type', 'scale', 'unit', 'meaning'], legend),
    '\n',
    writeColumns(['address', 'number', 'registers', 'subject', 'name'], places, [0, 1, 2]),
  ].join('');
}

function describeSubject(subject: string): string {
  if (subject === 'gateway') return 'gateway';
  return subject.includes('/') ? 'sensor' : 'motor';
}

function hex(bits: number): string {
  return bits.toString(16).padStart(8, '0');
}

/** For the configuration: all addresses as they are, whatever comes later. */
export function writeSlots(map: RegisterMap): string {
  const lines = map.blocks.map(({ motor, slot }) => `    ${motor.key}: ${slot}\n`);
  return `modbus:\n  slots: # a motor keeps its slot; take the next free one for a new motor\n${lines.join('')}`;
}
