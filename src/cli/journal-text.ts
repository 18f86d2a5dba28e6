/** The proof of the journal's chain as text for people. */
import { formatUtc } from '../../shared/time.js';
import type { JournalProof } from '../store/verify-journal.js';
import { writeParagraph } from './text-paragraph.js';

export function describeProof(proof: JournalProof): string {
  return [
    writeParagraph(tellVerdict(proof)),
    ...tellLimits(proof).map((text) => writeParagraph(text)),
    ...(proof.head === null ? [] : [`last entry  ${proof.head.id}\ndigest      ${proof.head.digest}\n`]),
  ].join('\n');
}

function tellVerdict({ fault, entries, head, expectedId }: JournalProof): string {
  if (fault !== null) {
    const before =
      fault.id === null || entries === 0
        ? ''
        : ` The ${countOf(entries)} before it are as they were written.`;
    return `The journal is NOT as it was written. ${fault.says}${before} ${fault.advice}`;
  }
  if (head === null) return 'The journal has no chained entry yet; there is nothing to prove.';
  const met = expectedId === null ? '' : ` The digest that was expected is that of entry ${expectedId}.`;
  return `The journal is as it was written: ${countOf(entries)}, none altered, removed, inserted or moved.${met}`;
}

function tellLimits({ fault, unchained, removed, head, expectedId }: JournalProof): string[] {
  const told: string[] = [];
  if (removed !== null)
    told.push(
      `Retention has taken the ${removed.count} oldest, up to number ${removed.id}, last on ${formatUtc(removed.at)}.`,
    );
  if (unchained > 0)
    told.push(`${countOf(unchained)} from before entries were chained: nothing can be said about them.`);
  if (fault === null && head !== null && expectedId === null)
    told.push(
      'Whether entries were cut off at the end, or the whole chain built anew, only a digest tells that was noted elsewhere: ' +
        'note this one, and give it later with --expect.',
    );
  return told;
}

function countOf(entries: number): string {
  return entries === 1 ? '1 entry' : `${entries} entries`;
}
