/** One cell of a CSV file: a text that a spreadsheet would calculate is shown instead. */

/**
 * Source: OWASP ASVS 5.0, 1.2.10, and OWASP's page on CSV injection: text that begins with one of = + - @ tab or null, and the carriage
 * return and line feed that some programs skip, gets an apostrophe in front; so do the full-width forms, which some take for the same (from
 * memory).
 */
const CALCULATED = /^[=+\-@\t\r\n\0＝＋－＠]/;

/** For text only: a number is written as it is, also a negative one. */
export function guardCell(text: string): string {
  return CALCULATED.test(text) ? `'${text}` : text;
}

/** Source: RFC 4180, 2, rules 6 and 7. */
export function quoteCell(text: string): string {
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
