/**
 * What the journal says of each alarm, followed entry by entry: when it was announced, when somebody acknowledged it, and for
 * how long it stood before the operator's eyes.
 * Times are those of detection: what counts is what the operator could see, not what had happened.
 */
import type { JournalChange } from '../../shared/alarm-terms.js';

/** One entry of the journal as far as it counts here. */
export interface JournalLine {
  /** when the gateway knew, ms */
  readonly at: number;
  readonly alarm: string;
  readonly what: JournalChange;
  /** whether the operator was told of it */
  readonly annunciated: boolean;
}

/** A stretch `[from, to)` in which an announced alarm stood, active since `since`, hidden by nothing. */
export interface Spell {
  readonly from: number;
  /** null: it still stands where the journal ends */
  readonly to: number | null;
  readonly since: number;
}

export interface AlarmHistory {
  readonly alarm: string;
  /** in order */
  readonly annunciations: number[];
  readonly acknowledgements: number[];
  /** of activations that were announced; in order */
  readonly returns: number[];
  readonly spells: Spell[];
}

/** Changes that can put an active alarm before the operator. A return that is told is no alarm, an act of his own neither. */
const ANNOUNCES: Readonly<Record<JournalChange, boolean>> = {
  '': false,
  raised: true,
  annunciated: true,
  returned: false,
  acknowledged: false,
  confirmed: false,
  reset: false,
  shelved: false,
  unshelved: true,
  'shelf-expired': true,
  suppressed: false,
  unsuppressed: true,
  'taken-out-of-service': false,
  'returned-to-service': true,
  grouped: false,
  ungrouped: true,
  'flood-began': false,
  'flood-ended': false,
};

export function isAnnunciation({ what, annunciated }: JournalLine): boolean {
  return annunciated && ANNOUNCES[what];
}

/** What hides an alarm from the operator, by the change that begins it; and by those that end it. */
const HIDES: Readonly<Partial<Record<JournalChange, string>>> = {
  shelved: 'shelf',
  suppressed: 'design',
  'taken-out-of-service': 'service',
  grouped: 'group',
};
const SHOWS: Readonly<Partial<Record<JournalChange, string>>> = {
  unshelved: 'shelf',
  'shelf-expired': 'shelf',
  unsuppressed: 'design',
  'returned-to-service': 'service',
  ungrouped: 'group',
};

class Follower {
  readonly history: AlarmHistory;
  readonly #hiddenBy = new Set<string>();
  /** null: not active */
  #since: number | null = null;
  #isAnnounced = false;
  /** null: it does not stand */
  #openFrom: number | null = null;

  constructor(alarm: string) {
    this.history = { alarm, annunciations: [], acknowledgements: [], returns: [], spells: [] };
  }

  take(line: JournalLine): void {
    const { at, what } = line;
    const wasAnnounced = this.#isAnnounced;
    const since = this.#since;
    if (what === 'raised') this.#since = at;
    if (what === 'returned') this.#since = null;
    const hides = HIDES[what];
    const shows = SHOWS[what];
    if (hides !== undefined) this.#hiddenBy.add(hides);
    if (shows !== undefined) this.#hiddenBy.delete(shows);
    if (what === 'acknowledged') this.history.acknowledgements.push(at);
    if (isAnnunciation(line)) {
      this.history.annunciations.push(at);
      this.#isAnnounced = true;
      this.#since ??= at;
    }
    if (what === 'returned') {
      if (wasAnnounced) this.history.returns.push(at);
      this.#isAnnounced = false;
    }
    const stands = this.#since !== null && this.#isAnnounced && this.#hiddenBy.size === 0;
    const isOther = !stands || this.#since !== since;
    if (this.#openFrom !== null && isOther) {
      if (at > this.#openFrom)
        this.history.spells.push({ from: this.#openFrom, to: at, since: since ?? this.#openFrom });
      this.#openFrom = null;
    }
    if (stands) this.#openFrom ??= at;
  }

  finish(): AlarmHistory {
    if (this.#openFrom !== null)
      this.history.spells.push({ from: this.#openFrom, to: null, since: this.#since ?? this.#openFrom });
    return this.history;
  }
}

/** Expects the lines in order of time. In the order in which the alarms first appear. */
export function followAlarms(lines: readonly JournalLine[]): AlarmHistory[] {
  const followers = new Map<string, Follower>();
  for (const line of lines) {
    let follower = followers.get(line.alarm);
    if (follower === undefined) {
      follower = new Follower(line.alarm);
      followers.set(line.alarm, follower);
    }
    follower.take(line);
  }
  return [...followers.values()].map((follower) => follower.finish());
}
