/** Names and what is known of them, one beside the other. */
import type { ComponentChildren } from 'preact';

export type Fact = readonly [name: string, value: ComponentChildren];

export function FactList({ facts }: { facts: readonly Fact[] }) {
  return (
    <dl class="fact-list">
      {facts.map(([name, value]) => (
        <div key={name}>
          <dt>{name}</dt>
          <dd>{value}</dd>
        </div>
      ))}
    </dl>
  );
}
