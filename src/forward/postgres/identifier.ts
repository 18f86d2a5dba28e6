/** Names and texts inside statements. Source: PostgreSQL manual, 4.1.1 and 4.1.2. */

/** `tallypost`, `rollups` -> `"tallypost"."rollups"`. */
export function quoteName(...parts: readonly string[]): string {
  return parts.map((part) => `"${part.replaceAll('"', '""')}"`).join('.');
}

/** For sessions with `standard_conforming_strings = on`. */
export function quoteText(text: string): string {
  return `'${text.replaceAll("'", "''")}'`;
}
