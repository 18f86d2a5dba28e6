/**
 * How something stands, by shape and word, and by colour only where it is wrong: a tick, a cross in a box, an open ring for what
 * nobody knows yet, and a slanted mark for what somebody should look at.
 */
export const VERDICTS = ['good', 'wrong', 'look', 'unknown', 'busy'] as const;
export type VerdictKind = (typeof VERDICTS)[number];

const PATHS: Readonly<Record<VerdictKind, string>> = {
  good: 'M4 10.5 8.5 15 16 5.5',
  wrong: 'M2.5 2.5H17.5V17.5H2.5ZM6.5 6.5 13.5 13.5M13.5 6.5 6.5 13.5',
  look: 'M10 2.5 18 17.5H2ZM10 8V12M10 14.2V15',
  unknown: 'M10 4A6 6 0 1 1 10 16A6 6 0 1 1 10 4',
  busy: 'M4 10H4.5M9.8 10H10.2M15.5 10H16',
};

/** `word` is read out, and shown beside the sign unless it is `onlyHeard`. */
export function VerdictSign({
  kind,
  word,
  onlyHeard = false,
}: {
  kind: VerdictKind;
  word: string;
  onlyHeard?: boolean;
}) {
  return (
    <span class={`verdict-sign is-${kind}`}>
      <svg viewBox="0 0 20 20" width="20" height="20" aria-hidden="true">
        <path d={PATHS[kind]} />
      </svg>
      <span class={onlyHeard ? 'only-heard' : 'verdict-word'}>{word}</span>
    </span>
  );
}
