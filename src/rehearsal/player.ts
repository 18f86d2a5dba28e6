/** Plays the stored past under one plan: minute by minute over all sensors, as the ticks of the gateway did. */
import { openState, type CoreState } from '../core/step.js';
import { emptyStep } from '../core/new-state.js';
import {
  closePastMinute,
  knowPastAction,
  needsPastWindows,
  passPastTime,
  takePastWindow,
  withdrawPastAction,
  type PastHour,
  type PastMinute,
  type PastWindow,
} from '../core/history.js';
import type { MaintenanceAction } from '../core/maintenance-rows.js';
import type { Plan } from '../core/plan.js';
import type { SensorState } from '../core/state.js';
import { ActivationLog, newActivation } from './activation.js';
import { plannedAlarms, whyNotRehearsed } from './kinds.js';

const MINUTE_MS = 60_000;
const TEN_MINUTES_MS = 600_000;
const HOUR_MS = 3_600_000;
/** Behind the end of a minute the sweep closes it; hours are taken in before the next minute closes. */
const HOUR_READ_AFTER_MS = 30_000;

/** What is stored of one sensor over a stretch of time. */
export interface SensorPast {
  readonly minutes: readonly PastMinute[];
  readonly hours: ReadonlyMap<number, PastHour>;
}

/** A stretch of whole minutes of all sensors. */
export interface PastStretch {
  readonly from: number;
  readonly to: number;
  readonly sensors: ReadonlyMap<string, SensorPast>;
  /** of a sensor and an hour, as far as they are kept */
  windows(sensor: string, hour: number): readonly PastWindow[];
}

interface Track {
  readonly sensor: SensorState;
  readonly past: SensorPast;
  next: number;
  /** base windows of the hour, while they are needed */
  windows: readonly PastWindow[];
}

/** An action when it was entered, or when it was withdrawn. */
interface Entry {
  readonly at: number;
  readonly action: MaintenanceAction;
  readonly isWithdrawal: boolean;
}

function inOrder(actions: readonly MaintenanceAction[]): Entry[] {
  const entries = actions.flatMap((action): Entry[] => {
    const entered = { at: action.enteredAt, action, isWithdrawal: false };
    const { withdrawn } = action;
    return withdrawn === null ? [entered] : [entered, { at: withdrawn.at, action, isWithdrawal: true }];
  });
  return entries.sort((a, b) => a.at - b.at || a.action.id - b.action.id);
}

export class Player {
  readonly log = new ActivationLog();
  readonly #state: CoreState;
  readonly #entries: readonly Entry[];
  readonly #ids: ReadonlySet<string>;
  #nextEntry = 0;

  /** `actions`: in the order in which they were entered. */
  constructor(plan: Plan, actions: readonly MaintenanceAction[]) {
    this.#state = openState(plan, null);
    this.#entries = inOrder(actions);
    const rehearsed = [...plannedAlarms(plan).values()].filter(({ kind }) => whyNotRehearsed(kind) === '');
    this.#ids = new Set(rehearsed.map(({ id }) => id));
  }

  /** Stretches must follow one another. */
  play(stretch: PastStretch): void {
    const state = this.#state;
    const tracks = this.#openTracks(stretch);
    for (let start = stretch.from; start < stretch.to; start += MINUTE_MS) {
      if (start % HOUR_MS === 0) {
        emptyStep(state);
        this.#openHour(stretch, tracks, start);
      }
      const end = start + MINUTE_MS;
      passPastTime(state, end);
      for (const track of tracks) this.#closeMinute(track, start);
      if (end % HOUR_MS === 0) passPastTime(state, end + HOUR_READ_AFTER_MS);
      if (end % HOUR_MS === 0 || end === stretch.to) this.#takeJournal();
    }
  }

  #openTracks({ sensors }: PastStretch): Track[] {
    return this.#state.sensorList.flatMap((sensor) => {
      const past = sensors.get(sensor.key);
      return past === undefined ? [] : [{ sensor, past, next: 0, windows: [] }];
    });
  }

  #openHour(stretch: PastStretch, tracks: readonly Track[], hour: number): void {
    for (const track of tracks) {
      const isWanted = needsPastWindows(track.sensor) && track.past.hours.has(hour);
      track.windows = isWanted ? stretch.windows(track.sensor.key, hour) : [];
    }
  }

  #closeMinute(track: Track, start: number): void {
    const { sensor, past } = track;
    const end = start + MINUTE_MS;
    this.#knowEntries(end + sensor.sweepDelayMs);
    const found = past.minutes[track.next];
    const minute = found?.start === start ? found : null;
    if (minute !== null) track.next += 1;
    const hour = end % HOUR_MS === 0 ? (past.hours.get(end - HOUR_MS) ?? null) : null;
    const isLearning = end % TEN_MINUTES_MS === 0 && track.windows.length > 0;
    if (minute === null && hour === null && !isLearning) return;
    for (const window of track.windows)
      if (window.start >= end - TEN_MINUTES_MS && window.start < end) takePastWindow(sensor, window);
    closePastMinute(this.#state, sensor, start, minute, hour);
  }

  /** What a person had entered before the gateway's clock stood at `at`. */
  #knowEntries(at: number): void {
    for (; this.#nextEntry < this.#entries.length; this.#nextEntry++) {
      const { at: knownAt, action, isWithdrawal } = this.#entries[this.#nextEntry]!;
      if (knownAt >= at) return;
      if (isWithdrawal) withdrawPastAction(this.#state, action);
      else knowPastAction(this.#state, action);
    }
  }

  #takeJournal(): void {
    const { out, plan } = this.#state;
    for (const { subject, what, at } of out.journal) {
      if (!this.#ids.has(subject)) continue;
      if (what === 'raised') this.log.raise(newActivation(subject, at, at, plan.revision));
      else if (what === 'returned') this.log.giveBack(subject, at);
    }
    out.journal = [];
  }
}
