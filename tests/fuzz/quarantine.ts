/** Reads what the gateway refused, page by page, over HTTP. */

export interface QuarantineEntry {
  readonly reason: string;
  readonly topic: string;
  readonly client: string;
}

const PAGES_MAX = 2_000;

export async function readQuarantine(http: string): Promise<QuarantineEntry[]> {
  const rows: QuarantineEntry[] = [];
  let cursor: string | null = null;
  for (let page = 0; page < PAGES_MAX; page++) {
    const query: string = cursor === null ? '' : `&cursor=${encodeURIComponent(cursor)}`;
    const answer = await fetch(`${http}/api/v1/quarantine?limit=1000${query}`, {
      signal: AbortSignal.timeout(10_000),
    });
    if (!answer.ok) throw new Error(`quarantine answered ${answer.status}: ${await answer.text()}`);
    const body = (await answer.json()) as { quarantine: QuarantineEntry[]; next: string | null };
    rows.push(...body.quarantine);
    cursor = body.next;
    if (cursor === null) return rows;
  }
  throw new Error(`more than ${PAGES_MAX} pages in quarantine`);
}
