/** One step of a run: what to do, the button, what it showed, and earlier attempts. */
import { now, zone } from '../data/clock.js';
import type { RunBody, RunStep } from '../data/station-bodies.js';
import { mayChange } from '../data/session.js';
import { CautionList } from '../parts/caution-list.js';
import { VerdictSign } from '../parts/verdict-sign.js';
import { formatClockSeconds, formatExact, formatSpan } from '../times.js';
import { HeardTable } from './heard-table.js';
import {
  BEGIN_WORDS,
  nameStep,
  SPARK_CAUTIONS,
  STEP_GUIDES,
  toSentence,
  nameVerdict,
  type WantedStep,
} from './run-words.js';

function Drives({ drives }: { drives: RunStep['verdict']['drives'] }) {
  if (drives.length === 0) return <p class="quiet">No drive told a change.</p>;
  return (
    <p>
      Told by drives:{' '}
      {drives
        .map(
          ({ motor, at, state, modulating }) =>
            `${formatClockSeconds(Date.parse(at), zone.value)} ${motor} ${state}${modulating ? ', modulating' : ''}`,
        )
        .join('; ')}
      .
    </p>
  );
}

function Counted({ verdict }: { verdict: RunStep['verdict'] }) {
  if (verdict.span === null) return null;
  const clock = (at: string): string => formatClockSeconds(Date.parse(at), zone.value);
  return (
    <p class="quiet">
      Counted from {clock(verdict.span.from)} to {clock(verdict.span.to)}, in whole increments.
    </p>
  );
}

function Outcome({ step, title }: { step: RunStep; title: string }) {
  const { verdict, begun_at: begun, begun_by: who, ended_at: ended } = step;
  const goesOn = ended === null && verdict.state === 'waiting';
  return (
    <div class="run-outcome">
      <p class="run-says">{toSentence(verdict.says)}</p>
      {verdict.todo !== '' && <p class="todo">{verdict.todo}</p>}
      <Drives drives={verdict.drives} />
      {verdict.sensors.length > 0 && (
        <HeardTable
          rows={verdict.sensors}
          title={`What was heard: ${title}`}
          isStill={step.step === 'stop'}
          isOver={ended !== null}
        />
      )}
      <Counted verdict={verdict} />
      <p class="quiet">
        Begun {formatExact(Date.parse(begun), zone.value)} by {who}
        {goesOn && `, ${formatSpan(now.value - Date.parse(begun))} ago`}
      </p>
    </div>
  );
}

/** On paper, where nothing can be opened: what each attempt came to. */
function TriesInShort({ tries }: { tries: readonly RunStep[] }) {
  return (
    <div class="run-tries">
      {tries.map((each) => (
        <p key={each.begun_at}>
          Earlier attempt, {formatExact(Date.parse(each.begun_at), zone.value)} by {each.begun_by}:{' '}
          {nameVerdict(each)[1].toLowerCase()}, {each.verdict.says}.
        </p>
      ))}
    </div>
  );
}

function Earlier({ tries, title }: { tries: readonly RunStep[]; title: string }) {
  if (tries.length === 0) return null;
  return (
    <>
      <TriesInShort tries={tries} />
      <details class="run-earlier no-print">
        <summary>{tries.length === 1 ? 'One earlier attempt' : `${tries.length} earlier attempts`}</summary>
        {tries.map((each) => (
          <Outcome key={each.begun_at} step={each} title={title} />
        ))}
      </details>
    </>
  );
}

function SparkCautions({ run }: { run: RunBody }) {
  return <CautionList cautions={run.cautions.filter(({ id }) => SPARK_CAUTIONS.includes(id))} />;
}

export function StepCard({
  run,
  wanted,
  place,
  isNext,
  isSending,
  onBegin,
}: {
  run: RunBody;
  wanted: WantedStep;
  place: number;
  isNext: boolean;
  isSending: boolean;
  onBegin: () => void;
}) {
  const { key, step, sensor, tries } = wanted;
  const last = tries.at(-1) ?? null;
  const title = nameStep(step, sensor, run.motor);
  const [kind, word] = last === null ? (['unknown', 'Not done'] as const) : nameVerdict(last);
  const isOpen = run.state === 'open';
  const goesOn = last !== null && last.ended_at === null && last.verdict.state === 'waiting';
  return (
    <li
      class={`run-step panel ${isNext ? 'is-next' : ''}`}
      data-step={key}
      data-state={last?.verdict.state ?? 'none'}
    >
      <header class="station-head">
        <h2>
          {place}. {title}
        </h2>
        <VerdictSign kind={kind} word={word} />
        {isOpen && mayChange() && (
          <button
            type="button"
            class={`push ${isNext && !goesOn ? 'primary' : ''}`}
            disabled={isSending}
            onClick={onBegin}
            aria-label={`${last === null ? BEGIN_WORDS[step] : 'Repeat'}: ${title}`}
          >
            {last === null ? BEGIN_WORDS[step] : 'Repeat'}
          </button>
        )}
      </header>
      {isOpen && (isNext || last === null) && <p class="quiet">{STEP_GUIDES[step]}</p>}
      {isOpen && step === 'check' && isNext && <SparkCautions run={run} />}
      {last !== null && <Outcome step={last} title={title} />}
      <Earlier tries={tries.slice(0, -1)} title={title} />
    </li>
  );
}
