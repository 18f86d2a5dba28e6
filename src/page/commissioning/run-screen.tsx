/** One run of commissioning: its cautions, its steps with what they showed, its end, and the sheet that is printed. */
import { useState } from 'preact/hooks';
import { fetchBody, postBody, toProblem, type ApiProblem } from '../data/api-client.js';
import { zone } from '../data/clock.js';
import { motorOf, site } from '../data/plant.js';
import { currentWho, mayChange } from '../data/session.js';
import type { RunBody, RunStep } from '../data/station-bodies.js';
import { usePolled } from '../data/use-polled.js';
import { CautionList } from '../parts/caution-list.js';
import { FactList, type Fact } from '../parts/fact-list.js';
import { ProblemNote } from '../parts/problem-note.js';
import { VerdictSign } from '../parts/verdict-sign.js';
import { WhoField } from '../parts/who-field.js';
import { formatExact } from '../times.js';
import { EndForm, type EndOfRun } from './end-form.js';
import { listWantedSteps, RUN_WORDS, type WantedStep } from './run-words.js';
import { StepCard } from './step-card.js';
import '../parts/print.css';
import './commissioning.css';

const EVERY_MS = 2_000;

function factsOf(run: RunBody): Fact[] {
  const exact = (at: string): string => formatExact(Date.parse(at), zone.value);
  const facts: Fact[] = [
    ['Site and motor', `${site.value}, ${run.motor}`],
    ['Begun', `${exact(run.opened_at)} by ${run.opened_by}`],
  ];
  if (run.closed_at !== null) facts.push(['Ended', `${exact(run.closed_at)} by ${run.closed_by}`]);
  if (run.note !== '') facts.push(['Note', run.note]);
  facts.push(['Configuration', `revision ${run.configuration}`]);
  return facts;
}

function Steps({
  run,
  isSending,
  onBegin,
}: {
  run: RunBody;
  isSending: boolean;
  onBegin: (step: WantedStep) => void;
}) {
  const sensors = motorOf(run.motor).value?.sensors.map(({ sensor }) => sensor) ?? [];
  return (
    <ol class="run-steps">
      {listWantedSteps(run, sensors).map((wanted, place) => (
        <StepCard
          key={wanted.key}
          {...{ run, wanted, isSending, place: place + 1 }}
          isNext={run.next !== null && run.next.step === wanted.step && run.next.sensor === wanted.sensor}
          onBegin={() => onBegin(wanted)}
        />
      ))}
    </ol>
  );
}

function Head({ run, motor, id }: { run: RunBody | null; motor: string; id: number }) {
  return (
    <>
      <p class="no-print">
        <a class="target-link" href={`/wiring/${encodeURIComponent(motor)}`}>
          ← Wiring of {motor}
        </a>
      </p>
      <header class="station-head">
        <h1>
          Commissioning of {motor}, run {id}
        </h1>
        {run !== null && <VerdictSign kind={RUN_WORDS[run.state][0]} word={RUN_WORDS[run.state][1]} />}
        {run !== null && run.state !== 'open' && (
          <button type="button" class="push no-print" onClick={() => print()}>
            Print
          </button>
        )}
      </header>
    </>
  );
}

/** What is asked of the run, one thing at a time; its answer is shown at once. */
function useRun(id: number) {
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const [isSending, setSending] = useState(false);
  const [isClosed, setClosed] = useState(false);
  const polled = usePolled(
    `run ${id}`,
    async (signal) => {
      const run = await fetchBody<RunBody>(`/commissioning/${id}`, {}, signal);
      setClosed(run.state !== 'open');
      return run;
    },
    isClosed ? null : EVERY_MS,
  );
  const send = async (path: string, body: object): Promise<void> => {
    setSending(true);
    try {
      await postBody<RunBody>(`/commissioning/${id}/${path}`, body);
      setProblem(null);
      polled.reload();
    } catch (error) {
      setProblem(toProblem(error));
    } finally {
      setSending(false);
    }
  };
  return { run: polled.body, problem: problem ?? polled.problem, isSending, send };
}

interface StepWish {
  readonly who: string;
  readonly step: RunStep['step'];
  readonly sensor?: string;
}

export function RunScreen({ motor, id }: { motor: string; id: number }) {
  const { run, problem, isSending: isBusy, send } = useRun(id);
  const isOpen = run?.state === 'open' && mayChange();
  const isNameless = currentWho().trim() === '';
  const isSending = isBusy || isNameless;
  const begin = ({ step, sensor }: WantedStep): void => {
    const wish: StepWish = { who: currentWho().trim(), step, ...(sensor === null ? {} : { sensor }) };
    void send('steps', wish);
  };
  const end = (how: EndOfRun, note: string): void => void send(how, { who: currentWho().trim(), note });
  return (
    <div class="run-sheet" data-run={run?.state ?? 'loading'}>
      <Head run={run} motor={run?.motor ?? motor} id={id} />
      {problem !== null && <ProblemNote problem={problem} />}
      {run === null && problem === null && <p class="quiet">Opening the run…</p>}
      {run !== null && (
        <>
          <FactList facts={factsOf(run)} />
          {run.next !== null && (
            <p class="run-next" role="status">
              <strong>Next:</strong> {run.next.says}
            </p>
          )}
          {isOpen && <WhoField />}
          {run.state === 'open' && !isOpen && (
            <p class="todo">
              A run goes on by a login with the role engineer; what it shows can be read here.
            </p>
          )}
          {isOpen && isNameless && <p class="todo">Give your name: it stands in the result.</p>}
          <section aria-labelledby="run-cautions">
            <h2 id="run-cautions">Before you begin</h2>
            <CautionList cautions={run.cautions} />
          </section>
          <Steps run={run} isSending={isSending} onBegin={begin} />
          {isOpen && <EndForm run={run} isSending={isSending} onEnd={end} />}
          {run.state !== 'open' && <p class="run-signature">Signature, where the site asks for one:</p>}
        </>
      )}
    </div>
  );
}
