/** Accessibility by axe-core: every rule for WCAG 2.2 A and AA, and its own best practices. */
import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';

const SOURCE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

interface Found {
  readonly violations: readonly {
    readonly id: string;
    readonly help: string;
    readonly nodes: readonly { readonly html: string; readonly failureSummary?: string }[];
  }[];
}

/** One line for each violation; none: there is none. */
export async function findViolations(page: Page): Promise<string[]> {
  await page.evaluate(SOURCE);
  const found = await page.evaluate<Found, string[]>(
    (tags) =>
      (window as unknown as { axe: { run(root: Document, options: object): Promise<Found> } }).axe.run(
        document,
        {
          runOnly: tags,
          rules: { 'target-size': { enabled: true } },
        },
      ),
    TAGS,
  );
  return found.violations.flatMap(({ id, help, nodes }) =>
    nodes
      .slice(0, 3)
      .map(({ html, failureSummary }) => `${id}: ${help}: ${html.slice(0, 160)} ${failureSummary ?? ''}`),
  );
}
