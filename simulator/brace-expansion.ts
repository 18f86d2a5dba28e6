/** Names for rows of like things: `pump-{1..6}` and `fan-{a,b}`, the same notation as in the gateway's configuration. */

const NAMES_MAX = 10_000;

/** All names that a pattern stands for, in order; a name without braces stands for itself. Null: the braces are wrong. */
export function expandBraces(pattern: string): string[] | null {
  const open = pattern.indexOf('{');
  if (open < 0) return pattern.includes('}') ? null : [pattern];
  const close = pattern.indexOf('}', open);
  if (close < 0) return null;
  const choices = expandChoices(pattern.slice(open + 1, close));
  const tails = expandBraces(pattern.slice(close + 1));
  if (choices === null || tails === null) return null;
  const head = pattern.slice(0, open);
  if (head.includes('}') || choices.length * tails.length > NAMES_MAX) return null;
  return choices.flatMap((choice) => tails.map((tail) => head + choice + tail));
}

function expandChoices(inside: string): string[] | null {
  const range = /^(\d{1,6})\.\.(\d{1,6})$/.exec(inside);
  if (range === null) {
    const words = inside.split(',').map((word) => word.trim());
    return words.every((word) => /^[a-z0-9-]+$/.test(word)) ? words : null;
  }
  const [from, to] = [Number(range[1]), Number(range[2])];
  if (to < from || to - from >= NAMES_MAX) return null;
  return Array.from({ length: to - from + 1 }, (_, i) => String(from + i));
}
