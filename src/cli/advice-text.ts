/** Answers of comparisons and baselines as text for people. */
import { writeLacking, type BaselineTold } from '../advice/baseline.js';
import { writeHours, writeMethod, type ComparisonAnswer, type SideTold } from '../advice/comparison.js';
import { nameSensor } from '../advice/fleet.js';
import { writeFactor } from '../advice/judgement.js';
import type { QuestionAnswer, SistersTold } from '../advice/question.js';
import { formatUtc } from '../../shared/time.js';
import { writeColumns } from './text-columns.js';
import { writeParagraph } from './text-paragraph.js';

/** The sentence first, then what it rests on. */
export function writeAnswer(answer: QuestionAnswer): string {
  const { sentence, action, comparison, sisters } = answer;
  return [
    writeParagraph(sentence),
    ...(action === null
      ? []
      : [writeParagraph(`Action ${action.id} of ${writeTime(action.at)}: ${action.text}.`)]),
    ...(comparison === null ? [] : writeComparison(comparison)),
    ...(sisters === null ? [] : [writeSisters(sisters)]),
  ]
    .filter((part) => part !== '')
    .join('\n');
}

function writeComparison(answer: ComparisonAnswer): string[] {
  const { a, b, method, dispersion, confidence, days, binsUsed, binsLeftOut, notes, p } = answer;
  const head = ['', 'from', 'to', 'pulses', 'running', 'a minute'];
  const sides = writeColumns(head, [a, b].map(sideRow), [3, 4, 5]);
  const bins = binsUsed.map(({ bin, a: inA, b: inB }) => [
    perMinute(inA.pulses, inA.ms),
    inA.phi.toFixed(1),
    perMinute(inB.pulses, inB.ms),
    inB.phi.toFixed(1),
    writeHours(Math.min(inA.ms, inB.ms)),
    bin,
  ]);
  const used = writeColumns(['a/min', 'φ', 'b/min', 'φ', 'shared', 'condition bin'], bins, [0, 1, 2, 3, 4]);
  const left = binsLeftOut.map(({ bin, reason, ms }) => [writeHours(ms), bin, reason]);
  const basis =
    `${Math.round(100 * confidence)} % limits by ${writeMethod(method)}${days === null ? '' : ` (${days} days)`}; ` +
    `dispersion ${writeFactor(dispersion)}; p ${p < 0.0001 ? 'below 0.0001' : p.toPrecision(2)} against equal rates.`;
  return [
    sides,
    ...(bins.length === 0 ? [] : [used]),
    ...(left.length === 0 ? [] : [writeColumns(['left out', 'condition bin', 'because'], left, [0])]),
    ...(method === null ? [] : [writeParagraph(basis)]),
    notes.map((note) => writeParagraph(note, 0, '- ')).join(''),
  ];
}

function sideRow({ name, from, to, pulses, ms }: SideTold): string[] {
  const when = (at: number | null): string => (at === null ? '-' : writeTime(at));
  return [name, when(from), when(to), String(pulses), writeHours(ms), perMinute(pulses, ms)];
}

function perMinute(pulses: number, ms: number): string {
  return ms === 0 ? '-' : writeFactor((60_000 * pulses) / ms);
}

/** 2026-03-01 06:00Z: to the minute, which is all that hours need. */
function writeTime(at: number): string {
  return `${formatUtc(at).slice(0, 16).replace('T', ' ')}Z`;
}

function writeSisters({ dutyGroup, placed, leftOut }: SistersTold): string {
  const rows = [
    ...placed.map(({ name, ratio, sharedMs }) => [
      Number.isFinite(ratio) ? writeFactor(ratio) : 'she is silent',
      writeHours(sharedMs),
      name,
    ]),
    ...leftOut.map(({ name, sharedMs }) => ['-', writeHours(sharedMs), `${name} (too little is shared)`]),
  ];
  if (rows.length === 0) return '';
  return writeColumns(['times', 'shared', `as often as its sister (duty group ${dutyGroup})`], rows, [0, 1]);
}

export function writeBaselines(baselines: readonly BaselineTold[]): string {
  const rows = baselines.flatMap(({ sensor, state, bins }) =>
    bins.length === 0
      ? [[nameSensor(sensor), state, '-', '-', '-', 'nothing has run yet']]
      : bins.map((bin) => [
          nameSensor(sensor),
          bin.state,
          writeHours(bin.ms),
          String(bin.days),
          perMinute(bin.pulses, bin.ms),
          `${bin.bin}${bin.lacking === null ? '' : `: needs ${writeLacking(bin.lacking) || 'the next look'}`}`,
        ]),
  );
  return writeColumns(['sensor', 'state', 'running', 'days', 'a minute', 'condition bin'], rows, [2, 3, 4]);
}
