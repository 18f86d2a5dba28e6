/** What a report is to be of, and over which time. */
import { computed } from '@preact/signals';
import { useState } from 'preact/hooks';
import { readNow, zone } from '../data/clock.js';
import { motorKeys, motorOf } from '../data/plant.js';
import { openAddress } from '../router.js';
import { DAY_MS } from '../times.js';
import {
  isSpanChoice,
  SPAN_CHOICES,
  spanOf,
  toLocalField,
  typedSpan,
  type SpanChoice,
} from './report-span.js';

export type ReportKind = 'motor' | 'group' | 'period';

const groups = computed(() => [
  ...new Set((motorKeys.value ?? []).flatMap((key) => motorOf(key).value?.duty_group ?? [])),
]);

const KINDS: Readonly<Record<ReportKind, { readonly title: string; readonly says: string }>> = {
  motor: {
    title: 'One motor',
    says: 'Both positions with their limits, what was set aside, how it compares, what was done, what could explain it.',
  },
  group: { title: 'A duty group', says: 'Its motors side by side, like with like, with the odd one marked.' },
  period: {
    title: 'A shift or a week',
    says: 'Every motor in a line, alarms and who answered them, work and findings, the balance.',
  },
};

function Choice({ name, title, options }: { name: string; title: string; options: readonly string[] }) {
  return (
    <label>
      {title}
      <select name={name}>
        {options.map((each) => (
          <option key={each} value={each}>
            {each}
          </option>
        ))}
      </select>
    </label>
  );
}

function SpanFields({ first, onTyped }: { first: SpanChoice; onTyped: (isTyped: boolean) => void }) {
  const [choice, setChoice] = useState<SpanChoice>(first);
  const now = readNow();
  return (
    <>
      <label>
        Time
        <select
          name="span"
          value={choice}
          onChange={({ currentTarget: { value } }) => {
            if (!isSpanChoice(value)) return;
            setChoice(value);
            onTyped(value === 'typed');
          }}
        >
          {Object.entries(SPAN_CHOICES).map(([value, words]) => (
            <option key={value} value={value}>
              {words}
            </option>
          ))}
        </select>
      </label>
      {choice === 'typed' && (
        <>
          {(['from', 'to'] as const).map((name) => (
            <label key={name}>
              {name === 'from' ? 'From' : 'To'} (clock of the site)
              <input
                type="datetime-local"
                name={name}
                required
                defaultValue={toLocalField(name === 'from' ? now - DAY_MS : now, zone.value)}
              />
            </label>
          ))}
        </>
      )}
    </>
  );
}

function KindForm({ kind }: { kind: ReportKind }) {
  const [fault, setFault] = useState('');
  const { title, says } = KINDS[kind];
  const submit = (event: SubmitEvent & { currentTarget: HTMLFormElement }): void => {
    event.preventDefault();
    const data = new FormData(event.currentTarget);
    const text = (name: string): string => (data.get(name) as string | null) ?? '';
    const choice = text('span');
    const span =
      !isSpanChoice(choice) || choice === 'typed'
        ? typedSpan(text('from'), text('to'), zone.value, readNow())
        : spanOf(choice, readNow(), zone.value);
    if (span === null)
      return setFault('Give a beginning and an end after it, at least a minute and at most a year apart.');
    const of = kind === 'period' ? '' : `/${encodeURIComponent(text('of'))}`;
    openAddress(`/reports/${kind}${of}?from=${span.from}&to=${span.to}`);
  };
  return (
    <form class="report-choice panel" aria-labelledby={`choice-${kind}`} onSubmit={submit} data-kind={kind}>
      <h2 id={`choice-${kind}`}>{title}</h2>
      <p>{says}</p>
      {kind === 'motor' && <Choice name="of" title="Motor" options={motorKeys.value ?? []} />}
      {kind === 'group' && <Choice name="of" title="Duty group" options={groups.value} />}
      <SpanFields first={kind === 'period' ? 'shift' : 'hours-24'} onTyped={() => setFault('')} />
      {fault !== '' && (
        <p class="todo" role="alert">
          {fault}
        </p>
      )}
      <button type="submit" class="primary">
        Make the report
      </button>
    </form>
  );
}

export function ReportChooser() {
  if (motorKeys.value === null) return <p class="quiet">Loading the plant…</p>;
  return (
    <>
      <h1>Reports</h1>
      <p>
        A page that prints on A4 or Letter from the browser, with figures, method, sources and cautions, and
        the same figures as CSV. Its address can be kept: opened again it shows the same span.
      </p>
      <div class="report-choices">
        {(Object.keys(KINDS) as ReportKind[]).map((kind) => (
          <KindForm key={kind} kind={kind} />
        ))}
      </div>
    </>
  );
}
