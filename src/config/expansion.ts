/**
 * Names with braces: `booster-{1..6}` stands for six names, `{01..12}` keeps the zeros, `{a,b}` lists.
 * Why: a row of like motors should be one entry of the file, not forty copies that drift apart.
 */

/** Most names that one pattern may stand for. Our choice: ten times the largest plant we measure with. */
export const EXPANSION_MAX = 10_000;

export type Expansion =
  | { readonly ok: true; readonly texts: string[] }
  | { readonly ok: false; readonly expected: string; readonly found: string };

/** All texts that a pattern stands for, in the order written; several braces multiply, the last one runs fastest. */
export function expandBraces(pattern: string): Expansion {
  let texts = [''];
  for (const part of pattern.split(/(\{[^{}]*\})/)) {
    if (/[{}]/.test(part) && !/^\{[^{}]*\}$/.test(part)) {
      return { ok: false, expected: 'braces in pairs, not nested', found: JSON.stringify(pattern) };
    }
    const choices = part.startsWith('{') ? readBraces(part) : [part];
    if (choices === null) {
      const expected = 'a rising range such as {1..6} or {01..12}, or a list such as {a,b}, in the braces';
      return { ok: false, expected, found: JSON.stringify(part) };
    }
    if (texts.length * choices.length > EXPANSION_MAX) {
      return {
        ok: false,
        expected: `at most ${EXPANSION_MAX} names`,
        found: `more in ${JSON.stringify(pattern)}`,
      };
    }
    texts = texts.flatMap((text) => choices.map((choice) => text + choice));
  }
  return { ok: true, texts };
}

function readBraces(braces: string): string[] | null {
  const inner = braces.slice(1, -1);
  const range = /^(\d{1,9})\.\.(\d{1,9})$/.exec(inner);
  if (range !== null) {
    const [first, last] = [range[1] ?? '', range[2] ?? ''];
    const length = Number(last) - Number(first) + 1;
    if (length < 1) return null;
    const width = first.startsWith('0') && first.length > 1 ? first.length : 0;
    // one more than allowed is enough for the caller to see that it is too many
    const count = Math.min(length, EXPANSION_MAX + 1);
    return Array.from({ length: count }, (_, index) => String(Number(first) + index).padStart(width, '0'));
  }
  const items = inner.split(',').map((item) => item.trim());
  return items.length > 1 && items.every((item) => item !== '') ? items : null;
}
