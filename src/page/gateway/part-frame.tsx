/** A part of the gateway: its name, how it stands in one sentence, and its facts. */
import type { ComponentChildren } from 'preact';
import { VerdictSign, type VerdictKind } from '../parts/verdict-sign.js';

export function PartFrame({
  name,
  title,
  kind,
  says,
  isWide = false,
  children,
}: {
  /** of the part, for its id */
  name: string;
  title: string;
  kind: VerdictKind;
  says: string;
  isWide?: boolean;
  children: ComponentChildren;
}) {
  return (
    <section
      class={`gateway-part panel ${isWide ? 'is-wide' : ''}`}
      aria-labelledby={`gateway-${name}`}
      data-part={name}
    >
      <h2 id={`gateway-${name}`}>{title}</h2>
      <p class="gateway-says">
        <VerdictSign kind={kind} word={says} />
      </p>
      {children}
    </section>
  );
}
