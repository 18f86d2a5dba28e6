/** The plan list, and what is known about one motor of it, as text for people. */
import type { Advice, Ground, Hypothesis } from '../advice/hypotheses.js';
import type { PlanList } from '../advice/plan-list.js';
import type { MotorDossier } from '../api/advice-reader.js';
import { writeColumns } from './text-columns.js';
import { writeParagraph } from './text-paragraph.js';

export function writePlan({ lines, standing }: PlanList): string {
  const rows = lines.map(({ rank, motor, reason }) => [String(rank), motor, reason]);
  return `${writeColumns(['rank', 'motor', 'why'], rows, [0])}\n${writeParagraph(standing)}`;
}

export function writeDossier({ line, standing, remedies, advice }: MotorDossier): string {
  return [
    writeParagraph(`${line.motor}, rank ${line.rank}: ${line.reason}.`),
    ...(remedies.length === 0
      ? []
      : [
          'Remedies, before and after\n' +
            remedies
              .map(({ action, sentence }) => writeParagraph(`${action?.text ?? ''}: ${sentence}`, 2, '- '))
              .join(''),
        ]),
    writeAdvice(advice),
    writeParagraph(standing),
  ].join('\n');
}

function writeAdvice({ standing, hypotheses, cautions }: Advice): string {
  return [
    writeParagraph(standing),
    ...hypotheses.map(writeHypothesis),
    'Cautions\n' + cautions.map(({ text }) => writeParagraph(text, 2, '- ')).join(''),
  ].join('\n');
}

function writeHypothesis(each: Hypothesis, place: number): string {
  const list = (title: string, texts: readonly string[]): string =>
    texts.length === 0 ? '' : `   ${title}\n${texts.map((text) => writeParagraph(text, 5, '- ')).join('')}`;
  const tell = ({ observed, text, source }: Ground): string => `${observed} Because ${text} [${source}].`;
  const told = ({ text, source }: { text: string; source: string }): string => `${text} [${source}]`;
  return [
    writeParagraph(`${place + 1}. ${each.name}: ${each.weight}. ${each.about.text} [${each.about.source}]`),
    list('speaks for it', each.speaksFor.map(tell)),
    list('speaks against it', each.speaksAgainst.map(tell)),
    list('not known', each.notKnown),
    list('would confirm it', each.confirm.map(told)),
    list('would refute it', each.refute.map(told)),
    list(
      'usual order of remedies, each with its trap',
      each.remedies.map(
        ({ text, source, trap, tried }) =>
          `${text} [${source}] Trap: ${trap.text} [${trap.source}]${tried === null ? '' : ` On record: ${tried}.`}`,
      ),
    ),
  ].join('');
}
