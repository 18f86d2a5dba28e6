/**
 * Activations: from a raise to the return, and how many of them a stretch of time held.
 * Source: three activations within a minute are what IEC 62682 / ISA-18.2 calls chattering; an alarm that comes again within the
 * hour is our own, milder measure, because alarms on a rate move by the minute and could never meet the other.
 */

export interface Activation {
  readonly alarm: string;
  readonly from: number;
  /** null: it stands to the end of what was looked at */
  to: number | null;
  /** when the gateway knew of it; of a rehearsal the same as `from` */
  readonly detectedAt: number;
  /** revision of the configuration that raised it; '' where nothing says */
  readonly configuration: string;
  /** who acknowledged and who confirmed it; '': nobody */
  acknowledgedBy: string;
  confirmedBy: string;
  /** when a person did the later of the two; null: nobody has */
  answeredAt: number | null;
}

/** What one alarm did in a stretch of time. */
export interface Tally {
  /** activations that began in it */
  readonly raised: number;
  /** it stood at the beginning, raised before */
  readonly standsAtStart: boolean;
  readonly standsAtEnd: boolean;
  /** time that it stood, ms */
  readonly stoodMs: number;
  readonly longestMs: number;
  /** activations that are one of at least three within a minute */
  readonly chattering: number;
  /** activations that came less than an hour after the one before */
  readonly repeated: number;
  /** the first ones, in order; `to` null: it stands at the end */
  readonly activations: readonly { readonly from: number; readonly to: number | null }[];
}

const CHATTER_MS = 60_000;
const CHATTER_LEAST = 3;
const REPEAT_MS = 3_600_000;
/** Most activations that are listed one by one. */
const LISTED_MOST = 100;

export function newActivation(
  alarm: string,
  from: number,
  detectedAt: number,
  configuration: string,
): Activation {
  return {
    ...{ alarm, from, to: null, detectedAt, configuration },
    ...{ acknowledgedBy: '', confirmedBy: '', answeredAt: null },
  };
}

/** `all`: of one alarm, in order; `from` inclusive, `to` exclusive. */
export function tallyActivations(all: readonly Activation[], from: number, to: number): Tally {
  const seen = all.filter((one) => one.from < to && (one.to === null || one.to > from));
  const own = all.filter((one) => one.from >= from && one.from < to);
  const lengths = seen.map((one) => Math.min(one.to ?? to, to) - Math.max(one.from, from));
  return {
    raised: own.length,
    standsAtStart: seen.some((one) => one.from < from),
    standsAtEnd: seen.some((one) => one.to === null || one.to > to),
    stoodMs: lengths.reduce((sum, ms) => sum + ms, 0),
    longestMs: Math.max(0, ...lengths),
    chattering: countChattering(own),
    repeated: own.filter((one) => {
      const before = all[all.indexOf(one) - 1];
      return before !== undefined && one.from - before.from < REPEAT_MS;
    }).length,
    activations: seen
      .slice(0, LISTED_MOST)
      .map((one) => ({ from: one.from, to: one.to !== null && one.to <= to ? one.to : null })),
  };
}

function countChattering(own: readonly Activation[]): number {
  const chatters = new Set<Activation>();
  for (let i = 0; i + CHATTER_LEAST <= own.length; i++) {
    const group = own.slice(i, i + CHATTER_LEAST);
    if (group[CHATTER_LEAST - 1]!.from - group[0]!.from < CHATTER_MS)
      for (const one of group) chatters.add(one);
  }
  return chatters.size;
}

/** Activations by alarm. */
export class ActivationLog {
  readonly #byAlarm = new Map<string, Activation[]>();

  of(alarm: string): readonly Activation[] {
    return this.#byAlarm.get(alarm) ?? [];
  }

  raise(activation: Activation): void {
    const list = this.#byAlarm.get(activation.alarm);
    if (list === undefined) this.#byAlarm.set(activation.alarm, [activation]);
    else list.push(activation);
  }

  giveBack(alarm: string, at: number): void {
    const last = this.last(alarm);
    if (last?.to === null) last.to = Math.max(at, last.from);
  }

  last(alarm: string): Activation | undefined {
    return this.#byAlarm.get(alarm)?.at(-1);
  }
}
