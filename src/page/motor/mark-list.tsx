/** Work, findings and alarms of the span as a list: the text beside the marks of the chart. An alarm opens its evidence. */
import { useState } from 'preact/hooks';
import type { MarkBody } from '../../../shared/charts.js';
import { fetchBody, toProblem, type ApiProblem } from '../data/api-client.js';
import type { JournalPage, JournalRow } from '../data/bodies.js';
import { mayAct } from '../data/session.js';
import { Moment, Period } from '../parts/moment.js';
import { ProblemNote } from '../parts/problem-note.js';
import { sayLimited } from '../parts/rate-limits.js';
import { formatCount, formatRate, formatRunning } from '../times.js';
import type { ChartModel } from './chart-model.js';
import { WithdrawForm } from './withdraw-form.js';

const KIND_WORDS: Readonly<Record<MarkBody['kind'], string>> = {
  action: 'Work done',
  finding: 'Finding',
  alarm: 'Alarm',
};
const SHOWN_MOST = 100;

function nameMark({ kind, alarm }: MarkBody): string {
  if (alarm === null) return KIND_WORDS[kind];
  const name = alarm.alarm.split('.').slice(1).join('.').replaceAll('-', ' ');
  return `Alarm ${name} ${alarm.what.replaceAll('-', ' ')}`;
}

type Evidence = NonNullable<JournalRow['evidence']>;

function Figures({ evidence }: { evidence: Evidence }) {
  const { from, to, pulses, exposure_ms, rate_per_min: rate, setpoint_per_min: setpoint } = evidence;
  const rows: [string, preact.ComponentChildren][] = [['Looked at', <Period from={from} to={to} />]];
  // an alarm that was not raised by a rate has none of these
  if (rate !== null) {
    rows.push(['Counted', `${formatCount(pulses)} pulses in ${formatRunning(exposure_ms)} of running`]);
    const limits = { mean: rate, lower: evidence.lower_per_min ?? 0, upper: evidence.upper_per_min };
    rows.push(['Rate', `${sayLimited(limits)} a minute`]);
  }
  if (setpoint !== null) rows.push(['Setpoint', `${formatRate(setpoint)} a minute`]);
  return (
    <dl class="evidence-figures">
      {rows.map(([name, value]) => (
        <div key={name}>
          <dt>{name}</dt>
          <dd>{value}</dd>
        </div>
      ))}
    </dl>
  );
}

/** The evidence as it was frozen in the journal. */
function EvidenceOf({ mark }: { mark: NonNullable<MarkBody['alarm']> }) {
  const [row, setRow] = useState<JournalRow | null>(null);
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const open = async (isOpen: boolean): Promise<void> => {
    if (!isOpen || row !== null) return;
    try {
      const at = Date.parse(mark.at);
      const asked = { subject: mark.alarm, from: at, to: at + 1 };
      const page = await fetchBody<JournalPage>('/journal', asked);
      setRow(page.journal.find(({ id }) => id === mark.id) ?? null);
      setProblem(null);
    } catch (error) {
      setProblem(toProblem(error));
    }
  };
  return (
    <details onToggle={(event) => void open(event.currentTarget.open)}>
      <summary>Evidence</summary>
      {problem !== null && <ProblemNote problem={problem} />}
      {row !== null && row.evidence !== null && row.evidence !== undefined && (
        <div class="evidence">
          <p>{row.evidence.says}</p>
          <Figures evidence={row.evidence} />
          <p>
            <a href={`/alarms/${encodeURIComponent(mark.alarm)}`}>This alarm in the list of alarms</a>
          </p>
        </div>
      )}
    </details>
  );
}

/** Who entered it, how it compares, and a way to take it back. */
function Entry({ mark, onChanged }: { mark: MarkBody; onChanged: () => void }) {
  const entry = mark.action ?? mark.finding;
  if (entry === null) return null;
  const motor = encodeURIComponent(entry.motor);
  const kind = mark.action === null ? 'findings' : 'actions';
  return (
    <>
      <p class="quiet">Entered by {entry.by}</p>
      {mark.action !== null && (
        <a class="answer-link" href={`/compare/${motor}?action=${entry.id}`}>
          Before and after it
        </a>
      )}
      {mayAct() && <WithdrawForm path={`/motors/${motor}/${kind}/${entry.id}`} onWithdrawn={onChanged} />}
    </>
  );
}

export function MarkList({ model, onChanged }: { model: ChartModel; onChanged: () => void }) {
  const loaded = model.loaded.value;
  const { from, to } = model.span.value;
  const marks = (loaded?.timeline.marks ?? []).filter(
    ({ at }) => Date.parse(at) >= from && Date.parse(at) < to,
  );
  const shown = marks.slice(-SHOWN_MOST).reverse();
  const show = (at: string): void => {
    const time = Date.parse(at);
    model.setCursor(time);
    const half = (to - from) / 2;
    model.show({ from: time - half, to: time + half });
  };
  return (
    <section class="panel" aria-labelledby="marks-title">
      <h2 id="marks-title">Work, findings and alarms in this span</h2>
      {shown.length === 0 && <p class="quiet">None.</p>}
      {marks.length > SHOWN_MOST && (
        <p class="quiet">
          The newest {SHOWN_MOST} of {marks.length}.
        </p>
      )}
      {(loaded?.timeline.next ?? null) !== null && (
        <p class="quiet">There are more: choose a shorter span to see all.</p>
      )}
      <ul class="mark-list">
        {shown.map((mark) => (
          <li key={`${mark.kind} ${mark.at} ${mark.alarm?.id ?? mark.action?.id ?? mark.finding?.id ?? 0}`}>
            <button type="button" class="mark-time" onClick={() => show(mark.at)} title="Show in the chart">
              <Moment at={mark.at} />
            </button>
            <div>
              <strong>{nameMark(mark)}</strong>
              <p>{mark.text}</p>
              <Entry mark={mark} onChanged={onChanged} />
              {mark.alarm?.has_evidence === true && <EvidenceOf mark={mark.alarm} />}
            </div>
          </li>
        ))}
      </ul>
    </section>
  );
}
