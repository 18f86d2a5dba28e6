/** A point with its limits in each row, on a logarithmic axis, as vectors: for the screen and for print. A table stands beside it. */
import { placeRows, placeUnit, shortenLabel, type IntervalRow, type PlacedRow } from './interval-rows.js';
import { useWidth } from './use-width.js';
import './charts.css';

const FIRST_WIDTH = 480;
const LABEL_PX = 8.4;
const LABEL_LEAST = 80;
const LABEL_MOST = 330;
const MARK = 6;
const ARROW = 7;

function Limits({ row, left, right }: { row: PlacedRow; left: number; right: number }) {
  const { y, low, high, isOpenLow, isOpenHigh } = row;
  const start = isOpenLow ? left : low;
  const end = isOpenHigh ? right : high;
  return (
    <g class="limits">
      <line x1={start} x2={end} y1={y} y2={y} />
      {isOpenLow ? (
        <path d={`M${start + ARROW} ${y - ARROW / 2} ${start} ${y} ${start + ARROW} ${y + ARROW / 2}`} />
      ) : (
        <line x1={start} x2={start} y1={y - 4} y2={y + 4} />
      )}
      {isOpenHigh ? (
        <path d={`M${end - ARROW} ${y - ARROW / 2} ${end} ${y} ${end - ARROW} ${y + ARROW / 2}`} />
      ) : (
        <line x1={end} x2={end} y1={y - 4} y2={y + 4} />
      )}
    </g>
  );
}

/** A row that stands out is a diamond, larger and in the colour of what is abnormal, with words behind its label. */
function Mark({ row }: { row: PlacedRow }) {
  const { x, y, note, isHollow } = row;
  if (x === null) return null;
  const kind = `mark ${isHollow ? 'is-hollow' : ''} ${note === '' ? '' : 'is-odd'}`;
  if (note === '') return <circle class={kind} cx={x} cy={y} r={MARK - 1} />;
  const d = MARK + 2;
  return <path class={kind} d={`M${x} ${y - d} ${x + d} ${y} ${x} ${y + d} ${x - d} ${y}Z`} />;
}

function Row({ row, left, right }: { row: PlacedRow; left: number; right: number }) {
  const note = row.note === '' ? '' : ` (${row.note})`;
  return (
    <g>
      <text
        class={row.note === '' ? 'row-label' : 'row-label is-odd'}
        x={left - 12}
        y={row.y + 4}
        text-anchor="end"
      >
        {shortenLabel(row.label, Math.floor((left - 12) / LABEL_PX) - note.length)}
        {note}
        <title>{row.label}</title>
      </text>
      {row.x === null ? (
        <text class="row-missing" x={left + 8} y={row.y + 4}>
          {row.missing}
        </text>
      ) : (
        <>
          <Limits row={row} left={left} right={right} />
          <Mark row={row} />
        </>
      )}
    </g>
  );
}

/** `title`: what is drawn, for readers by ear; `unit`: on the axis. */
export function IntervalChart({
  rows,
  title,
  unit,
  reference,
  referenceWord,
}: {
  rows: readonly IntervalRow[];
  title: string;
  unit: string;
  reference: number | null;
  referenceWord: string;
}) {
  const [place, width] = useWidth(FIRST_WIDTH);
  const longest = Math.max(
    ...rows.map(({ label, note }) => label.length + (note === '' ? 0 : note.length + 6)),
    0,
  );
  const labelWidth = Math.min(LABEL_MOST, width / 2, Math.max(LABEL_LEAST, longest * LABEL_PX + 16));
  const picture = placeRows(rows, { width, labelWidth }, reference);
  const { height, left, right, top, bottom, ticks, referenceX } = picture;
  return (
    <div ref={place}>
      <svg class="interval-chart" viewBox={`0 0 ${width} ${height}`} role="img" aria-label={title}>
        {ticks.map(({ x, label }) => (
          <g key={label} class="tick">
            <line x1={x} x2={x} y1={top} y2={bottom} />
            <text x={x} y={bottom + 17} text-anchor="middle">
              {label}
            </text>
          </g>
        ))}
        {referenceX !== null && (
          <g class="reference">
            <line x1={referenceX} x2={referenceX} y1={top} y2={bottom} />
            <title>{referenceWord}</title>
          </g>
        )}
        <text class="unit" x={placeUnit(unit, picture)} y={bottom + 38} text-anchor="middle">
          {unit}
        </text>
        {picture.rows.map((row) => (
          <Row key={row.key} row={row} left={left} right={right} />
        ))}
      </svg>
    </div>
  );
}
