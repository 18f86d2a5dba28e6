/**
 * Text and size of the pages of a PDF as the browser writes it: streams packed with Flate, fonts with a map from glyphs to
 * Unicode. Enough of ISO 32000-1 to check what would be on paper; nothing more.
 */
import { inflateSync } from 'node:zlib';

export interface PdfPage {
  /** points, 1/72 inch */
  readonly width: number;
  readonly height: number;
  /** glyphs in the order in which they are drawn; a new line of text begins a new line */
  readonly text: string;
}

/** ISO 216 and ANSI, in points. */
const PAPERS = { A4: [595.28, 841.89], Letter: [612, 792] } as const;
/** The browser works in whole pixels of 0.75 points and rounds up: 0.5 mm; ISO 216 itself allows 1.5 mm and more. */
const PAPER_TOLERANCE = 1.5;

export function isPaper({ width, height }: PdfPage, paper: keyof typeof PAPERS): boolean {
  const [wide, high] = PAPERS[paper];
  return Math.abs(width - wide) < PAPER_TOLERANCE && Math.abs(height - high) < PAPER_TOLERANCE;
}

/** Objects by number, each with its dictionary and its unpacked stream. */
function readObjects(pdf: Buffer): Map<number, { head: string; stream: string }> {
  const text = pdf.toString('latin1');
  const objects = new Map<number, { head: string; stream: string }>();
  for (const found of text.matchAll(/(?:^|\n)(\d+) 0 obj\s*/g)) {
    const begin = found.index + found[0].length;
    const end = text.indexOf('endobj', begin);
    const body = text.slice(begin, end);
    const at = body.search(/stream\r?\n/);
    if (at < 0) {
      objects.set(Number(found[1]), { head: body, stream: '' });
      continue;
    }
    const head = body.slice(0, at);
    const from = begin + at + (body[at + 6] === '\r' ? 8 : 7);
    const length = Number(/\/Length (\d+)/.exec(head)?.[1] ?? 0);
    const packed = pdf.subarray(from, from + length);
    const isPacked = head.includes('/FlateDecode') && !head.includes('/Subtype /Image');
    objects.set(Number(found[1]), { head, stream: isPacked ? inflateSync(packed).toString('latin1') : '' });
  }
  return objects;
}

function fromHex(hex: string): string {
  return (hex.match(/.{4}/g) ?? []).map((unit) => String.fromCharCode(parseInt(unit, 16))).join('');
}

/** From glyph numbers to text. */
function readGlyphs(map: string): Map<number, string> {
  const glyphs = new Map<number, string>();
  for (const [, block = ''] of map.matchAll(/beginbfchar([\s\S]*?)endbfchar/g))
    for (const [, glyph = '', to = ''] of block.matchAll(/<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>/g))
      glyphs.set(parseInt(glyph, 16), fromHex(to));
  for (const [, block = ''] of map.matchAll(/beginbfrange([\s\S]*?)endbfrange/g))
    for (const [, from = '', to = '', first = ''] of block.matchAll(/<(\w+)>\s*<(\w+)>\s*<(\w+)>/g))
      for (let glyph = parseInt(from, 16); glyph <= parseInt(to, 16); glyph++)
        glyphs.set(glyph, String.fromCharCode(parseInt(first, 16) + glyph - parseInt(from, 16)));
  return glyphs;
}

/** `/F4 4 0 R` pairs of the font resources, also through a reference. */
function readFonts(
  head: string,
  objects: ReturnType<typeof readObjects>,
): Map<string, ReadonlyMap<number, string>> {
  const fonts = new Map<string, ReadonlyMap<number, string>>();
  const block = /\/Font\s*<<([\s\S]*?)>>/.exec(head)?.[1] ?? '';
  for (const [, name = '', number = ''] of block.matchAll(/\/(\w+) (\d+) 0 R/g)) {
    const font = objects.get(Number(number))?.head ?? '';
    const map = /\/ToUnicode (\d+) 0 R/.exec(font)?.[1];
    if (map !== undefined) fonts.set(name, readGlyphs(objects.get(Number(map))?.stream ?? ''));
  }
  return fonts;
}

function readStrings(content: string, fonts: Map<string, ReadonlyMap<number, string>>): string {
  let glyphs: ReadonlyMap<number, string> = new Map();
  let text = '';
  for (const [token, font, begun, shown] of content.matchAll(
    /\/(\w+) [\d.]+ Tf|(BT|Tm|-?[\d.]+ Td)\b|(?:\[([^\]]*)\]|<[0-9A-Fa-f]*>)\s*T[jJ]/g,
  )) {
    if (font !== undefined) glyphs = fonts.get(font) ?? new Map();
    else if (begun !== undefined) text += begun.endsWith('Td') && Number.parseFloat(begun) === 0 ? '' : '\n';
    else
      for (const [, hex = ''] of (shown ?? token).matchAll(/<([0-9A-Fa-f]*)>/g))
        for (const glyph of hex.match(/.{4}/g) ?? []) text += glyphs.get(parseInt(glyph, 16)) ?? '';
  }
  // ligatures are drawn as one glyph
  return text.normalize('NFKC');
}

export function readPdf(pdf: Buffer): PdfPage[] {
  const objects = readObjects(pdf);
  const pages: PdfPage[] = [];
  for (const { head } of objects.values()) {
    if (!/\/Type\s*\/Page\b/.test(head)) continue;
    const box = /\/MediaBox\s*\[([^\]]*)\]/.exec(head)?.[1]?.trim().split(/\s+/).map(Number) ?? [];
    const contents = Number(/\/Contents (\d+) 0 R/.exec(head)?.[1] ?? 0);
    pages.push({
      ...{ width: box[2] ?? 0, height: box[3] ?? 0 },
      text: readStrings(objects.get(contents)?.stream ?? '', readFonts(head, objects)),
    });
  }
  return pages;
}

/** All of it in one line: pieces of a sentence are drawn one by one. */
export function joinText(pages: readonly PdfPage[]): string {
  return pages
    .map(({ text }) => text)
    .join('\n')
    .replaceAll(/\s+/g, ' ');
}
