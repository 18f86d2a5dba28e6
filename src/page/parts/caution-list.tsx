/** Cautions as the gateway words them, each with where it comes from. */
export interface CautionText {
  readonly id: string;
  readonly text: string;
  readonly source: string;
}

export function CautionList({ cautions }: { cautions: readonly CautionText[] }) {
  return (
    <ul class="caution-list">
      {cautions.map(({ id, text, source }) => (
        <li key={id}>
          {text} <span class="source-of">[{source}]</span>
        </li>
      ))}
    </ul>
  );
}
