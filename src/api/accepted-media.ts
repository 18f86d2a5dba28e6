/** What an answer comes as: of what there is, what the request would rather have. Source: RFC 9110, 12.5. */

/** Of equals JSON; null: nothing that there is would be taken. An empty header asks for nothing in particular. */
export function chooseMedia(accept: string | undefined, hasCsv: boolean): 'json' | 'csv' | null {
  if (accept === undefined || accept.trim() === '') return 'json';
  const weights = readWeights(accept);
  const weightOf = (...ranges: string[]): number =>
    ranges.map((range) => weights.get(range)).find((weight) => weight !== undefined) ?? 0;
  const json = weightOf('application/json', 'application/*', '*/*');
  const csv = hasCsv ? weightOf('text/csv', 'text/*', '*/*') : 0;
  if (csv > json) return 'csv';
  return json > 0 ? 'json' : null;
}

/** By media range; of one that is named twice the last. A weight that is none counts as 1. */
function readWeights(accept: string): Map<string, number> {
  return new Map(
    accept.split(',').map((part) => {
      const [range = '', ...parameters] = part.toLowerCase().split(';');
      const q = parameters
        .map((each) => /^\s*q=([\d.]+)\s*$/.exec(each)?.[1])
        .find((each) => each !== undefined);
      return [range.trim(), q === undefined ? 1 : Number(q)];
    }),
  );
}

/** Whether `accept-encoding` takes a packing by its name. */
export function takesPacking(accepted: string, name: string): boolean {
  return new RegExp(`\\b${name}\\b(?!\\s*;\\s*q=0(?:\\.0*)?\\s*(?:,|$))`, 'i').test(accepted);
}
