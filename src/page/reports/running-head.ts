/** What every printed page of a report says of itself, so that a loose sheet is known: in the margin, by a style sheet of its own. */
import { useEffect } from 'preact/hooks';

/** A text as a string of CSS. Source: CSS Syntax Module Level 3, section 4.3.5. */
export function quoteCss(text: string): string {
  const escaped = text.replace(
    /[\u0000-\u001f"\\\u007f]/g,
    (sign) => `\\${sign.charCodeAt(0).toString(16)} `,
  );
  return `"${escaped}"`;
}

export function useRunningHead(text: string): void {
  useEffect(() => {
    const sheet = new CSSStyleSheet();
    sheet.replaceSync(
      `@page { @bottom-left { content: ${quoteCss(text)}; font: 8pt system-ui, sans-serif; color: #333; } }`,
    );
    document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet];
    return () => {
      document.adoptedStyleSheets = document.adoptedStyleSheets.filter((each) => each !== sheet);
    };
  }, [text]);
}
