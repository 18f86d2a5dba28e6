/** The view "Sisters": a duty group side by side, like with like, with the odd one marked and said. */
import { computed } from '@preact/signals';
import type { GroupBody } from '../../../shared/charts.js';
import { describeBin } from '../charts/bin-words.js';
import { IntervalChart } from '../charts/interval-chart.js';
import { zone } from '../data/clock.js';
import { motorKeys, motorOf } from '../data/plant.js';
import { useBody } from '../parts/use-body.js';
import { namePosition } from '../parts/alarm-words.js';
import { ProblemNote } from '../parts/problem-note.js';
import { writeLimited } from '../parts/rate-limits.js';
import { openAddress, setParameters } from '../router.js';
import { formatCount, formatExact, formatRunning } from '../times.js';
import type { ScreenProps } from '../view.js';
import {
  chooseBin,
  listRows,
  MATCHED,
  middleOf,
  sayMissing,
  sayVerdict,
  toIntervalRow,
  type GroupRow,
} from './group-rows.js';
import '../parts/view.css';
import './sisters.css';

/** Duty groups with the number of their motors, the largest first. */
const groups = computed(() => {
  const counts = new Map<string, number>();
  for (const key of motorKeys.value ?? []) {
    const group = motorOf(key).value?.duty_group ?? '';
    counts.set(group, (counts.get(group) ?? 0) + 1);
  }
  return [...counts].sort((a, b) => b[1] - a[1]);
});

function Choices({ group, bins, bin }: { group: string; bins: GroupBody['bins']; bin: string }) {
  return (
    <div class="choices">
      <label>
        Duty group
        <select
          class="short-choice"
          value={group}
          onChange={(event) => openAddress(`/sisters/${encodeURIComponent(event.currentTarget.value)}`)}
        >
          {groups.value.map(([name, motors]) => (
            <option key={name} value={name}>
              {name} ({motors === 1 ? '1 motor' : `${motors} motors`})
            </option>
          ))}
        </select>
      </label>
      <label>
        Conditions
        <select
          value={bin}
          onChange={(event) =>
            setParameters({
              bin: event.currentTarget.value === MATCHED ? 'matched' : event.currentTarget.value,
            })
          }
        >
          <option value={MATCHED}>matched: all bins that are shared</option>
          {bins.map((each) => (
            <option key={each.bin} value={each.bin}>
              {describeBin(each.bin)} ({each.motors} motors, {formatRunning(each.ms)})
              {each.unlike === null ? '' : ', not alike'}
            </option>
          ))}
        </select>
      </label>
    </div>
  );
}

/** `missing`: said where there is nothing */
function LimitedCell({ limited, missing }: { limited: GroupRow['rate']; missing: string }) {
  if (limited === null) return <td class="number">{missing}</td>;
  const { mean, limits } = writeLimited(limited);
  return (
    <td class="number">
      {mean} <span class="quiet">({limits})</span>
    </td>
  );
}

function GroupTable({ rows, title, bin }: { rows: readonly GroupRow[]; title: string; bin: string }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={title}>
      <table class="sisters-table">
        <caption>{title}</caption>
        <thead>
          <tr>
            {['Motor', 'Rate (95 % limits)', 'Times its group', 'Pulses', 'Running'].map((each) => (
              <th scope="col" key={each}>
                {each}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map(({ sensor, rate, ratio, pulses, ms }) => (
            <tr key={sensor.sensor} class={sensor.matched?.odd === true ? 'is-odd' : ''}>
              <th scope="row">
                <a href={`/motor/${encodeURIComponent(sensor.motor)}?span=604800000`}>{sensor.motor}</a>
                {sayVerdict(sensor) !== '' && <span class="verdict"> {sayVerdict(sensor)}</span>}
              </th>
              <LimitedCell limited={rate} missing={sayMissing(bin)} />
              <LimitedCell limited={ratio} missing="–" />
              <td class="number">{formatCount(pulses)}</td>
              <td class="number">{ms === 0 ? '0 s' : formatRunning(ms)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function Position({
  group,
  position,
  bin,
}: {
  group: GroupBody;
  position: GroupBody['positions'][number];
  bin: string;
}) {
  const rows = listRows(group, position.position, bin);
  const said = rows.filter(({ sensor }) => sensor.sentence !== '');
  const where = bin === MATCHED ? 'matched over all shared conditions' : describeBin(bin);
  const title = `${namePosition(position.position)}, ${where}`;
  return (
    <section class="panel" aria-labelledby={`position-${position.position}`}>
      <h2 id={`position-${position.position}`}>{namePosition(position.position)}</h2>
      {position.missing !== '' && <p class="quiet">No odd one is called here: {position.missing}.</p>}
      {said.map(({ sensor }) => (
        <p key={sensor.sensor} class="odd-sentence">
          {' '}
          {sensor.sentence}
        </p>
      ))}
      {position.missing === '' && said.length === 0 && <p>No motor of the group stands out at this end.</p>}
      <div class="chart-and-table">
        <IntervalChart
          rows={rows.map((row) => toIntervalRow(row, bin))}
          title={`Rates of the group, ${title}; the same figures are in the table`}
          unit="pulses per minute of running, logarithmic"
          reference={middleOf(rows)}
          referenceWord="middle of the group"
        />
        <GroupTable rows={rows} title={title} bin={bin} />
      </div>
    </section>
  );
}

export function SistersScreen({ rest, query }: ScreenProps) {
  const group = rest[0] ?? groups.value[0]?.[0] ?? '';
  const { body, problem, reload } = useBody<GroupBody>(
    group === '' ? null : `/sisters/${encodeURIComponent(group)}`,
  );
  // the address holds a word for it, because an empty parameter is taken away
  const asked = query.get('bin');
  const bin = asked === 'matched' ? MATCHED : (asked ?? (body === null ? MATCHED : chooseBin(body)));
  return (
    <>
      <header class="view-head">
        <h1>Sisters</h1>
        <Choices group={group} bins={body?.bins ?? []} bin={bin} />
        <button type="button" onClick={reload}>
          Look again
        </button>
      </header>
      {problem !== null && <ProblemNote problem={problem} />}
      {body === null && problem === null && <p class="quiet">Comparing…</p>}
      {body !== null && (
        <>
          <p>
            {body.bins.length === 0
              ? 'No motor of this group has run yet, as far as its sensors were heard.'
              : `${formatExact(Date.parse(body.from), zone.value)} to ${formatExact(Date.parse(body.to), zone.value)}, running exposure only. The dashed line is the middle of the group.`}{' '}
            A higher count is a reason to look closer; it is no diagnosis, and a count is not a severity.
          </p>
          {body.positions.map((position) => (
            <Position key={position.position} group={body} position={position} bin={bin} />
          ))}
        </>
      )}
    </>
  );
}
