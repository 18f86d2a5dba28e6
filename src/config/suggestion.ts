/** Did-you-mean: the known word nearest to what was written. */
import { distance } from 'fastest-levenshtein';

/**
 * The candidate nearest to `word`, or null when none is near enough to be a slip of the pen.
 * Near: at most a third of the word's letters differ (at least one, at most four); capitals and `-`, `_` do not count.
 * Our choice, because farther words are more often another idea than a typing error.
 */
export function suggestWord(word: string, candidates: readonly string[]): string | null {
  const plain = normalise(word);
  const limit = Math.min(4, Math.max(1, Math.floor(plain.length / 3)));
  let best: string | null = null;
  let bestDistance = limit + 1;
  for (const candidate of candidates) {
    const away = distance(plain, normalise(candidate));
    if (away < bestDistance) {
      best = candidate;
      bestDistance = away;
    }
  }
  return best === word ? null : best;
}

function normalise(word: string): string {
  return word.toLowerCase().replace(/[-_ ]/g, '');
}
