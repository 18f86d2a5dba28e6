/** The report of a duty group over a span: its motors side by side, like with like, and the odd one with its sentence. */
import type { GroupBody } from '../../../shared/charts.js';
import { describeBin } from '../charts/bin-words.js';
import { IntervalChart } from '../charts/interval-chart.js';
import { fetchBody } from '../data/api-client.js';
import type { Dossier } from '../data/advice-bodies.js';
import { readNow } from '../data/clock.js';
import { usePolled } from '../data/use-polled.js';
import { namePosition } from '../parts/alarm-words.js';
import {
  chooseBin,
  listRows,
  MATCHED,
  middleOf,
  sayMissing,
  sayVerdict,
  toIntervalRow,
  type GroupRow,
} from '../sisters/group-rows.js';
import { formatCount, formatRate, formatRunning } from '../times.js';
import { groupTable } from './group-csv.js';
import { GROUP_NOTES, RATE_NOTES } from './method-notes.js';
import { sayLimits } from './rate-words.js';
import { ReportSheet } from './report-sheet.js';
import type { ReportSpan } from './report-span.js';

/** A sheet is so many motors wide; the CSV file has all. */
const MOTORS_WIDE_MOST = 8;

interface GroupFigures {
  readonly group: GroupBody;
  readonly cautions: Dossier['advice']['cautions'];
  readonly madeAt: number;
}

async function readGroup(name: string, { from, to }: ReportSpan, signal: AbortSignal): Promise<GroupFigures> {
  const group = await fetchBody<GroupBody>(`/sisters/${encodeURIComponent(name)}`, { from, to }, signal);
  const motor = (group.sensors.find(({ matched }) => matched?.odd === true) ?? group.sensors[0])?.motor;
  const dossier =
    motor === undefined ? null : await fetchBody<Dossier>(`/plan/${encodeURIComponent(motor)}`, {}, signal);
  return { group, cautions: dossier?.advice.cautions ?? [], madeAt: readNow() };
}

function Rates({ rows, bin }: { rows: readonly GroupRow[]; bin: string }) {
  return (
    <table class="report-table">
      <thead>
        <tr>
          {['Motor', 'Rate a minute', 'Times its group', 'Pulses', 'Running'].map((title, place) => (
            <th scope="col" key={title} class={place > 0 ? 'number' : ''}>
              {title}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {rows.map(({ sensor, rate, ratio, pulses, ms }) => (
          <tr key={sensor.sensor}>
            <th scope="row">
              {sensor.motor}
              {sayVerdict(sensor) !== '' && ` (${sayVerdict(sensor)})`}
            </th>
            <td class="number">
              {rate === null ? sayMissing(bin) : sayLimits(rate.mean, rate.lower, rate.upper)}
            </td>
            <td class="number">{ratio === null ? '–' : sayLimits(ratio.mean, ratio.lower, ratio.upper)}</td>
            <td class="number">{formatCount(pulses)}</td>
            <td class="number">{ms === 0 ? '–' : formatRunning(ms)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function Bins({ group, position }: { group: GroupBody; position: string }) {
  const sensors = group.sensors.filter((each) => each.position === position);
  if (sensors.length > MOTORS_WIDE_MOST) return <p>The rates in each bin are in the CSV file.</p>;
  return (
    <table class="report-table">
      <caption>Rates a minute in each bin of like conditions</caption>
      <thead>
        <tr>
          <th scope="col">Conditions</th>
          {sensors.map(({ motor }) => (
            <th scope="col" key={motor} class="number">
              {motor}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {group.bins.map(({ bin, unlike }) => (
          <tr key={bin}>
            <th scope="row">
              {describeBin(bin)}
              {unlike !== null && ` (not compared: ${unlike})`}
            </th>
            {sensors.map(({ sensor, cells }) => {
              const cell = cells.find((each) => each.bin === bin);
              return (
                <td class="number" key={sensor}>
                  {cell === undefined ? '–' : formatRate(cell.rate_per_min.mean)}
                </td>
              );
            })}
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function Position({ group, position, missing }: { group: GroupBody; position: string; missing: string }) {
  const bin = chooseBin(group);
  const rows = listRows(group, position, bin);
  const where = bin === MATCHED ? 'Matched over all shared conditions' : `In one bin, ${describeBin(bin)}`;
  const said = rows.filter(({ sensor }) => sensor.sentence !== '');
  return (
    <section class="report-part is-whole" aria-labelledby={`report-${position}`}>
      <h2 id={`report-${position}`}>{namePosition(position)}</h2>
      {missing !== '' && <p>No odd one is called here: {missing}.</p>}
      {said.map(({ sensor }) => (
        <p key={sensor.sensor}>
          <strong>{sensor.sentence}</strong>
        </p>
      ))}
      {missing === '' && said.length === 0 && <p>No motor of the group stands out at this end.</p>}
      <figure>
        <IntervalChart
          rows={rows.map((row) => toIntervalRow(row, bin))}
          title={`Rates of the group at the ${namePosition(position)}; the table below has the same figures`}
          unit="pulses per minute of running, logarithmic"
          reference={middleOf(rows)}
          referenceWord="middle of the group"
        />
        <figcaption>
          {where}: points with their 95 % limits, as in the table; the dashed line is the middle of the group.
        </figcaption>
      </figure>
      <Rates rows={rows} bin={bin} />
      <Bins group={group} position={position} />
    </section>
  );
}

export function GroupReport({ group: name, span }: { group: string; span: ReportSpan }) {
  const { body, problem } = usePolled(
    `group ${name} ${span.from} ${span.to}`,
    (signal) => readGroup(name, span, signal),
    null,
  );
  const motors = new Set(body?.group.sensors.map(({ motor }) => motor)).size;
  return (
    <ReportSheet
      title={`Discharges in the duty group ${name}`}
      {...{ span, problem, madeAt: body?.madeAt ?? null }}
      facts={body === null ? [] : [['Motors', `${motors}`]]}
      csv={
        body === null
          ? []
          : [
              {
                label: 'Figures as CSV',
                name: `tallypost-group-${name}`,
                table: () => groupTable(body.group),
              },
            ]
      }
      notes={[...RATE_NOTES, ...GROUP_NOTES]}
      cautions={body?.cautions ?? []}
    >
      {body === null && problem === null && <p class="quiet">Comparing the motors of {name}…</p>}
      {body?.group.positions.map(({ position, missing }) => (
        <Position key={position} group={body.group} position={position} missing={missing} />
      ))}
    </ReportSheet>
  );
}
