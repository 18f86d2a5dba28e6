/** From answers to their bodies: RFC 3339 times, snake case, and null for what is no number. */
import { writeLacking, type BaselineTold } from '../advice/baseline.js';
import type { ComparisonAnswer, SideTold } from '../advice/comparison.js';
import type { Advice, Hypothesis } from '../advice/hypotheses.js';
import type { PlanLine, PlanList } from '../advice/plan-list.js';
import type { QuestionAnswer, SistersTold } from '../advice/question.js';
import { formatUtc, formatUtcOrNull } from '../../shared/time.js';
import type { MotorDossier } from './advice-reader.js';

type Body = Record<string, unknown>;

function finiteOrNull(value: number | null): number | null {
  return value !== null && Number.isFinite(value) ? value : null;
}

export function toAnswerBody(answer: QuestionAnswer): Body {
  const { kind, sensor, sentence, missing, comparison, sisters, action } = answer;
  return {
    question: kind,
    sensor,
    sentence,
    missing,
    comparison: comparison === null ? null : toComparisonBody(comparison),
    sisters: sisters === null ? null : toSistersBody(sisters),
    action:
      action === null
        ? null
        : {
            id: action.id,
            action: action.kind,
            at: formatUtc(action.at),
            end: action.end,
            text: action.text,
            is_remedy: action.isRemedy,
          },
  };
}

function toComparisonBody(answer: ComparisonAnswer): Body {
  return {
    ratio: finiteOrNull(answer.ratio),
    lower: answer.lower,
    upper: answer.upper,
    confidence: answer.confidence,
    method: answer.method,
    p: answer.p,
    shared_ms: answer.sharedMs,
    a: toSideBody(answer.a),
    b: toSideBody(answer.b),
    bins_used: answer.binsUsed,
    bins_left_out: answer.binsLeftOut,
    dispersion: answer.dispersion,
    days: answer.days,
    sentence: answer.sentence,
    notes: answer.notes,
  };
}

function toSideBody({ name, from, to, pulses, ms }: SideTold): Body {
  return { name, from: formatUtcOrNull(from), to: formatUtcOrNull(to), pulses, ms };
}

function toSistersBody({ dutyGroup, placed, leftOut, score }: SistersTold): Body {
  return {
    duty_group: dutyGroup,
    placed: placed.map(({ name, ratio, sharedMs }) => ({
      sister: name,
      ratio: finiteOrNull(ratio),
      shared_ms: sharedMs,
    })),
    left_out: leftOut.map(({ name, sharedMs }) => ({ sister: name, shared_ms: sharedMs })),
    score: score === null ? null : { motors: score.motors, p: score.p, odd: score.isOdd, torn: score.isTorn },
  };
}

export function toBaselineBody({ sensor, state, since, sentence, bins }: BaselineTold): Body {
  return {
    sensor,
    state,
    since: formatUtcOrNull(since),
    sentence,
    bins: bins.map((bin) => ({
      bin: bin.bin,
      state: bin.state,
      from: formatUtc(bin.from),
      to: formatUtc(bin.to),
      pulses: bin.pulses,
      ms: bin.ms,
      days: bin.days,
      rate_per_min: bin.ms === 0 ? null : (60_000 * bin.pulses) / bin.ms,
      phi: bin.phi,
      day_phi: bin.dayPhi,
      lacking:
        bin.lacking === null
          ? null
          : {
              running_ms: bin.lacking.runningMs,
              days: bin.lacking.days,
              pulses: bin.lacking.pulses,
              unsteady: bin.lacking.unsteady,
              text: writeLacking(bin.lacking),
            },
    })),
  };
}

function toLineBody({ rank, motor, ground, reason, dosePulses }: PlanLine): Body {
  return { rank, motor, ground, reason, dose_pulses: dosePulses };
}

export function toPlanBody({ standing, lines }: PlanList): Body {
  return { standing, motors: lines.map(toLineBody) };
}

export function toDossierBody({ line, standing, remedies, advice }: MotorDossier): Body {
  return {
    line: toLineBody(line),
    standing,
    remedies: remedies.map(toAnswerBody),
    advice: toAdviceBody(advice),
  };
}

function toAdviceBody({ motor, standing, hypotheses, observations, cautions }: Advice): Body {
  return { motor, standing, hypotheses: hypotheses.map(toHypothesisBody), observations, cautions };
}

function toHypothesisBody(each: Hypothesis): Body {
  return {
    mechanism: each.mechanism,
    name: each.name,
    about: each.about,
    weight: each.weight,
    speaks_for: each.speaksFor,
    speaks_against: each.speaksAgainst,
    not_known: each.notKnown,
    confirm: each.confirm,
    refute: each.refute,
    remedies: each.remedies.map(({ text, source, trap, tried }) => ({ text, source, trap, tried })),
  };
}
