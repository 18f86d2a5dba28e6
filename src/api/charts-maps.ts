/** From what pictures are drawn from to its bodies. */
import type { GroupBody, MarkBody, SeriesBody, TimelineBody } from '../../shared/charts.js';
import { LEDGER_CLASS_NAMES, type LedgerClassName } from '../../shared/ledger-terms.js';
import { describeAction, describeEnd } from '../../shared/maintenance-terms.js';
import { formatUtc, formatUtcOrNull } from '../../shared/time.js';
import { writeAction, writeFinding } from '../../shared/write-maintenance.js';
import type { Finding } from '../core/maintenance-rows.js';
import type { Plan } from '../core/plan.js';
import { Class } from '../core/words.js';
import type {
  GroupPicture,
  Mark,
  RateWithLimits,
  Series,
  SeriesPiece,
  SeriesPoint,
  SpanHours,
  SpanTotal,
  Timeline,
} from './charts-reader.js';

/** JSON has no infinity; a counter that dead time swamps has no upper bound. */
function finite(value: number | null): number | null {
  return value === null || !Number.isFinite(value) ? null : value;
}

export function toSeriesBody(series: Series, plan: Plan): SeriesBody {
  const { sensor, from, to, period, bucketMs, baseline, points, pieceMs, pieces, total, hours } = series;
  return {
    ...{ sensor, period, bucket_ms: bucketMs, unit: 'pulses per minute of running exposure' as const },
    from: formatUtc(from),
    to: formatUtc(to),
    baseline: {
      state: baseline.state,
      sentence: baseline.sentence,
      since: formatUtcOrNull(baseline.since),
    },
    setpoints: listSetpoints(sensor, plan),
    points: points.map(toPointBody),
    limits: { piece_ms: pieceMs, pieces: pieces.map(toPieceBody) },
    total: total === null ? null : toTotalBody(total),
    hours: hours === null ? null : toHoursBody(hours),
  };
}

function toTotalBody({ pulses, ms, mean, lower, upper, days, isUncertain }: SpanTotal): SeriesBody['total'] {
  return {
    ...{ running_pulses: pulses, running_ms: ms, days },
    ...{ mean_per_min: finite(mean), lower_per_min: finite(lower), upper_per_min: finite(upper) },
    quality: isUncertain ? 'uncertain' : 'good',
  };
}

function toHoursBody({ from, to, classPulses, classMs }: SpanHours): SeriesBody['hours'] {
  return {
    ...{ from: formatUtc(from), to: formatUtc(to) },
    running_pulses: classPulses[Class.running]!,
    running_ms: classMs[Class.running]!,
    excluded_ms: pickClasses(classMs),
    excluded_pulses: pickClasses(classPulses),
  };
}

function toPointBody(point: SeriesPoint): SeriesBody['points'][number] {
  return {
    start: formatUtc(point.start),
    end: formatUtc(point.end),
    running_pulses: point.pulses,
    running_ms: point.ms,
    mean_per_min: finite(point.mean),
    min_per_min: finite(point.least),
    max_per_min: finite(point.most),
    lower_per_min: finite(point.lower),
    upper_per_min: finite(point.upper),
    dispersion: point.dispersion,
    quality: point.quality,
    baseline_per_min: finite(point.baseline),
    excluded_ms: pickClasses(point.classMs),
    excluded_pulses: pickClasses(point.classPulses),
  };
}

function toPieceBody(piece: SeriesPiece): SeriesBody['limits']['pieces'][number] {
  return {
    start: formatUtc(piece.start),
    end: formatUtc(piece.end),
    running_pulses: piece.pulses,
    running_ms: piece.ms,
    mean_per_min: finite(piece.mean),
    lower_per_min: finite(piece.lower),
    upper_per_min: finite(piece.upper),
    dispersion: piece.dispersion,
    quality: piece.quality,
  };
}

function pickClasses(sums: readonly number[]): Partial<Record<LedgerClassName, number>> {
  const found: Partial<Record<LedgerClassName, number>> = {};
  LEDGER_CLASS_NAMES.forEach((name, i) => {
    if (name !== 'running' && sums[i + 1]! > 0) found[name] = sums[i + 1]!;
  });
  return found;
}

function listSetpoints(sensor: string, plan: Plan): SeriesBody['setpoints'] {
  const absolute = plan.rateAlarms
    .filter((alarm) => alarm.sensor === sensor)
    .map(({ id, kind, priority, setpointPerMin, deadbandPerMin }) => ({
      ...{ alarm: id, kind, priority, times_baseline: null },
      setpoint_per_min: setpointPerMin,
      deadband_per_min: deadbandPerMin,
    }));
  const relative = plan.deviationAlarms
    .filter((alarm) => alarm.sensor === sensor && alarm.kind === 'above-baseline')
    .map(({ id, kind, priority, factor }) => ({
      ...{ alarm: id, kind, priority, times_baseline: factor },
      ...{ setpoint_per_min: null, deadband_per_min: null },
    }));
  return [...absolute, ...relative];
}

/** `asked`: the motor, its span and the zone of the site. */
export function toTimelineBody(
  asked: { readonly motor: string; readonly from: number; readonly to: number; readonly zone: string },
  timeline: Timeline,
): TimelineBody {
  const { strip, exactFrom, transients, condition, marks, next } = timeline;
  return {
    motor: asked.motor,
    zone: asked.zone,
    from: formatUtc(asked.from),
    to: formatUtc(asked.to),
    run_states: strip.map((piece) => ({ ...piece, ...toSpan(piece) })),
    run_states_exact_from: exactFrom < asked.to ? formatUtc(exactFrom) : null,
    transients: transients.map(({ kind, transients: number, edges, counts, ...span }) => ({
      ...toSpan(span),
      ...{ kind, transients: number, edges, counts: counts.map((each) => ({ ...each })) },
    })),
    condition: {
      bucket_ms: condition.bucketMs,
      sampled: condition.isSampled,
      points: condition.points.map(({ start, end, speedRpm, loadPct }) => ({
        ...{ start: formatUtc(start), end: formatUtc(end), speed_rpm: speedRpm, load_pct: loadPct },
      })),
    },
    marks: marks.map(toMarkBody),
    next,
  };
}

function toSpan({ from, to }: { readonly from: number; readonly to: number }): { from: string; to: string } {
  return { from: formatUtc(from), to: formatUtc(to) };
}

function toMarkBody(mark: Mark): MarkBody {
  const none = { action: null, finding: null, alarm: null };
  const at = formatUtc(mark.row.at);
  switch (mark.kind) {
    case 'action':
      return { kind: 'action', at, text: describeAction(mark.row), ...none, action: writeAction(mark.row) };
    case 'finding':
      return {
        kind: 'finding',
        at,
        text: describeFinding(mark.row),
        ...none,
        finding: writeFinding(mark.row),
      };
    case 'alarm': {
      const { id, alarm, what, text, hasEvidence } = mark.row;
      const row = { id, at, alarm, what: what as NonNullable<MarkBody['alarm']>['what'], text };
      return { kind: 'alarm', at, text, ...none, alarm: { ...row, has_evidence: hasEvidence } };
    }
  }
}

/** `found at the drive end: craters, lubricant darkened: grease was dry` */
function describeFinding({ end, modes, signs, lubricant, note }: Finding): string {
  const seen = [...modes, ...signs, ...lubricant.map((word) => `lubricant ${word}`)].map((word) =>
    word.replaceAll('-', ' '),
  );
  return `found at the ${describeEnd(end)}${seen.length === 0 ? '' : `: ${seen.join(', ')}`}${note === '' ? '' : `: ${note}`}`;
}

export function toGroupBody(picture: GroupPicture): GroupBody {
  const { group, bins, sensors, positions } = picture;
  return {
    group,
    ...toSpan(picture),
    bins: bins.map((bin) => ({ ...bin })),
    sensors: sensors.map(({ sensor, from, to, cells, matched, sentence }) => ({
      ...{ sensor, motor: sensor.split('/')[0] ?? '', position: sensor.split('/')[1] ?? '', sentence },
      from: formatUtcOrNull(from),
      to: formatUtcOrNull(to),
      cells: cells.map(({ rate, ...cell }) => ({ ...cell, rate_per_min: toLimits(rate) })),
      matched:
        matched === null
          ? null
          : {
              rate_per_min: toLimits(matched.rate),
              ratio: toLimits(matched.ratio),
              ...{ pulses: matched.pulses, ms: matched.ms, p: matched.p, motors: matched.motors },
              ...{ odd: matched.isOdd, torn: matched.isTorn },
            },
    })),
    positions: positions.map((position) => ({ ...position })),
  };
}

function toLimits({ mean, lower, upper }: RateWithLimits): {
  mean: number;
  lower: number;
  upper: number | null;
} {
  return { mean, lower, upper: finite(upper) };
}
