/** A timed count as text that fits a terminal: what was asked, what it really covers, classes, condition, rate, sentence. */
import type { CountBody } from '../../shared/counts.js';
import { LEDGER_CLASS_NAMES } from '../../shared/ledger-terms.js';
import { format } from '../core/figures.js';
import { TERMINAL_COLUMNS, wrapText, writeColumns } from './text-columns.js';

const STRIP_MOST = 12;

export function describeCount(count: CountBody): string {
  const { asked, covered } = count;
  const facts: [string, string][] = [
    ['asked', `${asked.from} to ${asked.to}, ${seconds(asked.ms)}`],
    ['covered', covered === null ? 'nothing' : `${covered.from} to ${covered.to}, ${seconds(covered.ms)}`],
    ['pulses', `${count.pulses} in ${count.increments} increment${count.increments === 1 ? '' : 's'}`],
    ['running', describeRate(count)],
    ['run state', describeStrip(count.run_states)],
  ];
  const head = facts.map(([name, value]) => wrapFact(name, value)).join('');
  const sentence = wrapText(count.says, TERMINAL_COLUMNS).map((line) => `${line}\n`);
  return [`${count.sensor}\n${head}`, describeClasses(count), describeCondition(count), sentence.join('')]
    .filter((part) => part !== '')
    .join('\n');
}

const NAME_WIDTH = 11;

function wrapFact(name: string, value: string): string {
  const [first = '', ...more] = wrapText(value, TERMINAL_COLUMNS - NAME_WIDTH);
  return [name.padEnd(NAME_WIDTH) + first, ...more.map((line) => ' '.repeat(NAME_WIDTH) + line)]
    .map((line) => `${line}\n`)
    .join('');
}

function describeRate(count: CountBody): string {
  const { rate_per_min: rate, lower_per_min: lower, upper_per_min: upper } = count;
  if (rate === null) return 'no running time, so there is no rate';
  const high = upper === null ? 'more than can be counted' : figure(upper);
  const doubt = count.quality === 'good' ? '' : `, ${count.quality}`;
  return `${figure(rate)} per minute (${lower === null ? '?' : figure(lower)} to ${high}, 95 %${doubt})`;
}

function describeStrip(strip: CountBody['run_states']): string {
  const told = strip.slice(0, STRIP_MOST).map(({ from, to, state, modulating }) => {
    const odd = modulating === (state !== 'stopped' && state !== 'fault' && state !== 'unknown');
    const how = odd || state === 'unknown' ? '' : modulating ? ', modulating' : ', not modulating';
    return `${state}${how} ${seconds(Date.parse(to) - Date.parse(from))}`;
  });
  const more = strip.length - told.length;
  return [...told, ...(more > 0 ? [`${more} more`] : [])].join(', ');
}

function describeClasses(count: CountBody): string {
  const rows = LEDGER_CLASS_NAMES.map((name) => [name, count.classes[name]] as const)
    .filter(([, sums]) => sums.pulses > 0 || sums.ms > 0)
    .map(([name, { pulses, ms }]) => [name, String(pulses), seconds(ms), '']);
  if (count.pending_pulses > 0)
    rows.push(['pending', String(count.pending_pulses), '', 'not classified yet']);
  return rows.length === 0 ? '' : writeColumns(['class', 'pulses', 'time', ''], rows, [1, 2]);
}

function describeCondition({ condition }: CountBody): string {
  const spells = [
    ['speed, rpm', condition.speed_rpm],
    ['load, %', condition.load_pct],
    ['switching, kHz', condition.switching_khz],
    ['DC link, V', condition.dc_link_v],
  ] as const;
  const rows = spells.flatMap(([name, spell]) =>
    spell === null
      ? []
      : [[name, figure(spell.min), figure(spell.mean), figure(spell.max), seconds(spell.known_ms)]],
  );
  return rows.length === 0
    ? ''
    : writeColumns(['condition', 'least', 'mean', 'most', 'known for'], rows, [1, 2, 3]);
}

function seconds(ms: number): string {
  return `${(ms / 1000).toFixed(1)} s`;
}

/** Whole numbers as they are. */
function figure(value: number): string {
  if (Number.isInteger(value)) return String(value);
  return `${value < 0 ? '-' : ''}${format(Math.abs(value))}`;
}
