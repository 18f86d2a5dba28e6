/**
 * Stories of the planner as tables: a line is a time, what happens, and the messages that are put together then. State goes
 * through its written form at each step, so every line is a restart as well.
 */
import type { AlarmFacts, KnownEntry } from '../../src/notify/journal-page.js';
import { composeMessage } from '../../src/notify/compose-message.js';
import type { NotifyPlan } from '../../src/notify/notify-plan.js';
import { newState, readState, writeState, type NotifyState } from '../../src/notify/notify-state.js';
import { planMessages } from '../../src/notify/plan-messages.js';
import type { Route } from '../../src/notify/routes.js';
import { settleDelivery, type Outcome } from '../../src/notify/settle-delivery.js';

const RESPOND_MS = { high: 600_000, medium: 3_600_000, low: 28_800_000 };

export function route(name: string, change: Partial<Route> = {}): Route {
  return {
    ...{ name, priorities: null, zones: null, motors: null, kinds: null, windows: [], outside: 'skip' },
    ...{ onlyEscalated: false, escalateTo: null, tellReturns: true, tellAcknowledgements: false },
    ...{ burst: 6, messagesPerHour: 12, email: [`${name}@tarn-hollow.example`], webhook: null },
    ...change,
  };
}

export function notifyPlan(routes: readonly Route[], change: Partial<NotifyPlan> = {}): NotifyPlan {
  return {
    ...{ site: 'tarn-hollow', timeZone: 'Europe/London', waitMs: 30_000, queueMax: 100, failingMs: 300_000 },
    routes: new Map(routes.map((one) => [one.name, one])),
    ...change,
  };
}

/** `high:booster-1.de-rate-high`: priority, motor and alarm; the zone is the motor's name up to its hyphen. */
export function factsOf(subject: string): AlarmFacts {
  const [motor = '', alarm = ''] = subject.split('.');
  const priority = /high-/.test(alarm) ? 'high' : /medium-/.test(alarm) ? 'medium' : 'low';
  return {
    ...{ motor, position: 'de', kind: alarm.replace(/^(high|medium|low)-/, ''), priority },
    ...{ zone: motor.split('-')[0] ?? '', respondMs: RESPOND_MS[priority] },
    ...{ action: 'Look.', consequence: 'Wear.', cautions: ['The shaft turns.'] },
  };
}

type Word =
  | 'raise'
  | 'announce'
  | 'group'
  | 'ungroup'
  | 'return'
  | 'ack'
  | 'shelve'
  | 'unshelve'
  | 'late'
  | 'notice'
  | 'latch'
  | 'leave'
  | 'vanish'
  | 'flood'
  | 'calm';

const ENTRIES: Readonly<Record<Word, Pick<KnownEntry, 'what' | 'to' | 'annunciated'>>> = {
  raise: { what: 'raised', to: 'unacknowledged', annunciated: true },
  announce: { what: 'annunciated', to: 'unacknowledged', annunciated: true },
  group: { what: 'grouped', to: 'unacknowledged', annunciated: false },
  ungroup: { what: 'ungrouped', to: 'unacknowledged', annunciated: false },
  unshelve: { what: 'unshelved', to: 'unacknowledged', annunciated: false },
  return: { what: 'returned', to: 'returned-unacknowledged', annunciated: true },
  latch: { what: 'returned', to: 'latched-unacknowledged', annunciated: true },
  ack: { what: 'acknowledged', to: 'acknowledged', annunciated: false },
  shelve: { what: 'shelved', to: 'shelved', annunciated: false },
  late: { what: 'raised', to: 'shelved', annunciated: false },
  leave: { what: 'returned', to: 'returned-unacknowledged', annunciated: false },
  vanish: { what: 'returned', to: 'shelved', annunciated: false },
  flood: { what: 'flood-began', to: '', annunciated: false },
  calm: { what: 'flood-ended', to: '', annunciated: false },
  notice: { what: '', to: '', annunciated: false },
};

export function entry(id: number, at: number, word: Word, subject: string): KnownEntry {
  return {
    ...{
      id,
      at,
      detectedAt: at,
      since: at,
      subject,
      who: word === 'ack' ? 'J. Field' : '',
      text: `says ${id}`,
    },
    ...ENTRIES[word],
    facts: factsOf(subject),
  };
}

export class Story {
  state: NotifyState = newState(0);
  readonly notes: string[] = [];
  readonly entries = new Map<number, KnownEntry>();
  plan: NotifyPlan;
  wakeAt: number | null = null;
  #nextId = 1;
  readonly #seen = new Set<string>();
  readonly #start: number;

  constructor(plan: NotifyPlan, start: number) {
    this.plan = plan;
    this.#start = start;
  }

  /** `what`: words and subjects, separated by commas; `-`: nothing comes. Answers with the messages, delivered at once. */
  step(at: number, what: string): string {
    const fresh = what === '-' ? [] : what.split(',').map((text) => this.#enter(at, text.trim()));
    this.state = readState(writeState(this.state))!;
    const planned = planMessages(this.state, fresh, this.plan, at);
    this.notes.push(...planned.notes);
    this.wakeAt = planned.wakeAt;
    const messages = this.state.outbox.filter(({ id }) => !this.#seen.has(id));
    for (const { id } of messages) this.#seen.add(id);
    const texts = messages.map((message) => {
      const { site, timeZone } = this.plan;
      const { alarms } = composeMessage(message, { site, timeZone, entries: this.entries, facts: factsOf });
      const more = message.leftOut > 0 ? ` +${message.leftOut}` : '';
      return `${message.route}[${alarms.map(({ id, change }) => `${id} ${change}`).join('; ')}${more}]`;
    });
    return texts.length === 0 ? '-' : texts.join(' ');
  }

  #enter(at: number, text: string): KnownEntry {
    const [word = '', subject = ''] = text.split(' ');
    const fresh = entry(this.#nextId++, at, word as Word, subject);
    this.entries.set(fresh.id, fresh);
    return fresh;
  }

  settleAll(at: number, outcome: Outcome = { kind: 'delivered', refused: [], later: [] }): void {
    for (const { id } of this.state.outbox) {
      this.notes.push(...settleDelivery(this.state, id, 'email', outcome, this.plan, at));
    }
  }

  /** Lines of `time | what | messages`; `#` begins a remark. The answer has the messages that really came. */
  tell(table: string): { told: string; expected: string } {
    const told: string[] = [];
    const expected: string[] = [];
    for (const line of table.split('\n')) {
      const text = line.replace(/\s+#.*$/, '').trim();
      if (text === '' || text.startsWith('#')) continue;
      const [time = '', what = '', wanted = ''] = text.split('|').map((part) => part.trim());
      const now = this.#start + readTime(time);
      const came = this.step(now, what);
      this.settleAll(now);
      told.push(`${time} | ${what} | ${came}`);
      expected.push(`${time} | ${what} | ${wanted}`);
    }
    return { told: told.join('\n'), expected: expected.join('\n') };
  }
}

/** `90 s`, `2 min`, `3 h`. */
function readTime(text: string): number {
  const [number = '', unit = ''] = text.split(' ');
  return Number(number) * ({ ms: 1, s: 1_000, min: 60_000, h: 3_600_000 }[unit] ?? Number.NaN);
}
