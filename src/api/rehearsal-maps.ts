/** From what a rehearsal found (milliseconds, camel case) to its bodies. */
import { formatUtc, formatUtcOrNull } from '../../shared/time.js';
import type { Tally } from '../rehearsal/activation.js';
import type { SettingChange } from '../rehearsal/candidate.js';
import type { RehearsalJob } from '../rehearsal/desk.js';
import type { AlarmOutcome, Catch, ConfirmedEvent, Rehearsal } from '../rehearsal/outcome.js';
import type { OutcomeBody, RehearsalBody } from './rehearsal-bodies.js';

export function toRehearsalBody(job: RehearsalJob): RehearsalBody {
  return { ...toRehearsalLine(job), result: job.result === null ? null : toOutcomeBody(job.result) };
}

/** Without its result. */
export function toRehearsalLine(job: RehearsalJob): Omit<RehearsalBody, 'result'> {
  const { failure } = job;
  return {
    ...{ id: job.id, state: job.state, share: job.share },
    started_at: formatUtc(job.startedAt),
    ended_at: formatUtcOrNull(job.endedAt),
    failure: failure === null ? null : { detail: failure.message, hint: failure.hint ?? '' },
  };
}

export function toOutcomeBody(found: Rehearsal): OutcomeBody {
  return {
    from: formatUtc(found.from),
    to: formatUtc(found.to),
    warm_up_from: formatUtc(found.warmUpFrom),
    minutes_from: formatUtc(found.minutesFrom),
    running: found.running,
    candidate: found.candidate,
    baseline: found.baseline.map(toSetting),
    notes: [...found.notes],
    conclusion: found.conclusion,
    alarms: found.alarms.map(toAlarm),
    events: found.events.map(toEvent),
  };
}

function toSetting({ name, running, candidate }: SettingChange): OutcomeBody['baseline'][number] {
  return { name, running, candidate };
}

function toAlarm(alarm: AlarmOutcome): OutcomeBody['alarms'][number] {
  const { id, motor, sensor, kind, notice, change, differs, events, missed, conclusion } = alarm;
  return {
    ...{ id, motor, sensor, kind, notice, differs, events, missed, conclusion },
    not_rehearsed: alarm.notRehearsed,
    change: change === null ? null : { what: change.what, settings: change.settings.map(toSetting) },
    candidate: alarm.candidate === null ? null : toTally(alarm.candidate),
    running: alarm.running === null ? null : toTally(alarm.running),
    journal: toTally(alarm.journal),
    journal_differences: alarm.journalDifferences.map((each) => ({
      ...{ what: each.what, reason: each.reason, says: each.says },
      from: formatUtc(each.from),
      journal_to: formatUtcOrNull(each.journalTo),
      rehearsed_to: formatUtcOrNull(each.rehearsedTo),
    })),
  };
}

function toTally(tally: Tally): OutcomeBody['alarms'][number]['journal'] {
  const { raised, chattering, repeated } = tally;
  return {
    ...{ raised, chattering, repeated },
    stands_at_start: tally.standsAtStart,
    stands_at_end: tally.standsAtEnd,
    stood_ms: tally.stoodMs,
    longest_ms: tally.longestMs,
    activations: tally.activations.map(({ from, to }) => ({
      from: formatUtc(from),
      to: formatUtcOrNull(to),
    })),
  };
}

function toEvent(event: ConfirmedEvent): OutcomeBody['events'][number] {
  const { what, alarm, sensor, who, says } = event;
  const times = { from: formatUtc(event.from), to: formatUtc(event.to) };
  return {
    what,
    alarm,
    sensor,
    who,
    says,
    ...times,
    running: toCatch(event.running),
    candidate: toCatch(event.candidate),
  };
}

function toCatch({ by, delayMs }: Catch): OutcomeBody['events'][number]['running'] {
  return { by, delay_ms: delayMs };
}
