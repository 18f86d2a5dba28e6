/**
 * The nearest command, option or choice to a mistyped one. More generous than the suggestions for configuration keys,
 * because the words are few: two swapped letters of a five-letter word still find it.
 */
import { distance } from 'fastest-levenshtein';

/** null: nothing is near enough to be worth naming (at most a third of the letters may differ, two always). */
export function findNearestWord(given: string, known: readonly string[]): string | null {
  let best: string | null = null;
  let bestDistance = Math.max(2, Math.floor(given.length / 3)) + 1;
  for (const word of known) {
    const away = distance(given.toLowerCase(), word);
    if (away < bestDistance && away < word.length - 1) {
      best = word;
      bestDistance = away;
    }
  }
  return best;
}
