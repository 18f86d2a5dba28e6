/** The sheet that every report stands on: what of, when, made when and by what; buttons that are not printed; its foot. */
import type { ComponentChildren } from 'preact';
import { fetchBody } from '../data/api-client.js';
import { zone } from '../data/clock.js';
import { site } from '../data/plant.js';
import type { GatewayBody } from '../data/station-bodies.js';
import { usePolled } from '../data/use-polled.js';
import { CautionList, type CautionText } from '../parts/caution-list.js';
import { FactList, type Fact } from '../parts/fact-list.js';
import { ProblemNote } from '../parts/problem-note.js';
import type { ApiProblem } from '../data/api-client.js';
import { nameZone } from '../charts/time-axis.js';
import { formatExact } from '../times.js';
import type { CsvTable } from './csv.js';
import { saveCsv } from './save-csv.js';
import { COUNT_CAUTION, MethodNotes, type MethodNote } from './method-notes.js';
import { useRunningHead } from './running-head.js';
import { saySpan, type ReportSpan } from './report-span.js';

export interface CsvChoice {
  readonly label: string;
  /** of the file, without `.csv` */
  readonly name: string;
  /** made when it is asked for */
  readonly table: () => CsvTable;
}

interface Props {
  readonly title: string;
  readonly span: ReportSpan;
  /** when its figures were read, ms; null: not all of them are there yet */
  readonly madeAt: number | null;
  readonly facts: readonly Fact[];
  readonly csv: readonly CsvChoice[];
  readonly notes: readonly MethodNote[];
  readonly cautions: readonly CautionText[];
  readonly problem: ApiProblem | null;
  readonly children: ComponentChildren;
}

function Tools({ csv, isReady }: { csv: readonly CsvChoice[]; isReady: boolean }) {
  return (
    <div class="report-tools no-print">
      <a class="button" href="/reports">
        ← Another report
      </a>
      <button type="button" class="primary" disabled={!isReady} onClick={() => print()}>
        Print
      </button>
      {csv.map(({ label, name, table }) => (
        <button key={name} type="button" disabled={!isReady} onClick={() => saveCsv(name, table())}>
          {label}
        </button>
      ))}
    </div>
  );
}

/** The configuration that was in force when the report was made: with it the figures can be made again. */
function useRevision(): string {
  const { body } = usePolled('revision', (signal) => fetchBody<GatewayBody>('/gateway', {}, signal), null);
  return body === null ? '' : `Tallypost ${body.version}, configuration ${body.configuration.revision}`;
}

export function ReportSheet(props: Props) {
  const { title, span, madeAt, facts, csv, notes, cautions, problem, children } = props;
  const revision = useRevision();
  useRunningHead(`${site.value}: ${title}, ${saySpan(span, zone.value)}`);
  const isReady = madeAt !== null && revision !== '';
  return (
    <>
      <Tools csv={csv} isReady={isReady} />
      {problem !== null && <ProblemNote problem={problem} />}
      <article class="report-sheet" data-ready={isReady ? 'yes' : 'no'}>
        <header class="report-head">
          <p class="report-site">{site.value}</p>
          <h1>{title}</h1>
          <p>{saySpan(span, zone.value)}</p>
          <FactList
            facts={[
              ['Times', nameZone(span.from, span.to, zone.value)],
              ...facts,
              [
                'Made',
                madeAt === null ? 'not complete yet' : `${formatExact(madeAt, zone.value)}, ${revision}`,
              ],
            ]}
          />
        </header>
        {children}
        <MethodNotes notes={notes} />
        <section class="report-part" aria-labelledby="report-cautions">
          <h2 id="report-cautions">Cautions</h2>
          <p>
            <strong>{COUNT_CAUTION}</strong>
          </p>
          {cautions.length > 0 && <CautionList cautions={cautions} />}
        </section>
      </article>
    </>
  );
}
