/**
 * Who reports what, and whether they are still there. An unclean end of a session (no DISCONNECT) is the end of what it
 * reported: its drives become absent, its sensors offline. A clean goodbye takes nothing away: a reporter that connects
 * for one message is as good as one that stays. Any later message brings a drive or a sensor back.
 * Source: MQTT 3.1.1, 3.14 (DISCONNECT) for clean and unclean; the rest is our choice.
 */
import type { Fact, MotorKey, SensorKey } from '../core/facts.js';
import type { Restored } from '../core/needs.js';

/** What is kept over a restart: drives whose reporter had a session open. */
export interface PresenceRecord {
  readonly reporting: readonly MotorKey[];
}

export class Presence {
  /** the record differs from the one taken last */
  isChanged = false;
  /** client whose session reports a drive, by motor */
  readonly #reporters = new Map<MotorKey, string>();
  /** client whose session feeds a sensor */
  readonly #feeders = new Map<SensorKey, string>();
  readonly #motorsOf = new Map<string, Set<MotorKey>>();
  readonly #sensorsOf = new Map<string, Set<SensorKey>>();
  readonly #absent = new Set<MotorKey>();
  readonly #offline = new Set<SensorKey>();

  /** Takes up what the store kept. Returns facts to begin with: who had a session open then has none now. */
  restore(restored: Restored | null, record: PresenceRecord | null, lastTickAt: number): Fact[] {
    for (const [motor, rows] of restored?.presences ?? []) {
      if (rows.at(-1)?.online === false) this.#absent.add(motor);
    }
    const facts: Fact[] = [];
    for (const motor of record?.reporting ?? []) {
      if (this.#absent.has(motor)) continue;
      this.#absent.add(motor);
      facts.push({ kind: 'drive-presence', motor, online: false, receivedAt: lastTickAt });
    }
    if (facts.length > 0) this.isChanged = true;
    return facts;
  }

  /** Adds a message's fact to `facts`, after the word that its sender is back where it was absent. */
  take(client: string, fact: Fact, facts: Fact[]): void {
    switch (fact.kind) {
      case 'reading':
        this.#feeds(client, fact.sensor);
        if (this.#offline.delete(fact.sensor)) {
          const { sensor, device, receivedAt } = fact;
          facts.push({ kind: 'sensor-presence', sensor, online: true, device, receivedAt });
        }
        break;
      case 'sensor-presence':
        if (fact.online) this.#feeds(client, fact.sensor);
        if (fact.online) this.#offline.delete(fact.sensor);
        else this.#offline.add(fact.sensor);
        break;
      case 'drive':
        this.#reports(client, fact.motor);
        if (this.#absent.delete(fact.motor)) {
          facts.push({
            kind: 'drive-presence',
            motor: fact.motor,
            online: true,
            receivedAt: fact.receivedAt,
          });
        }
        break;
      case 'drive-presence':
        if (fact.online) {
          this.#reports(client, fact.motor);
          this.#absent.delete(fact.motor);
        } else this.#absent.add(fact.motor);
        break;
      case 'tick':
      case 'forwarding':
      case 'operate':
      case 'action':
      case 'finding':
      case 'withdraw':
      case 'check':
      case 'stored':
        break;
    }
    facts.push(fact);
  }

  /** Only what this client was the last to report goes with it. */
  endSession(client: string, isClean: boolean, receivedAt: number, facts: Fact[]): void {
    for (const motor of this.#motorsOf.get(client) ?? []) {
      if (this.#reporters.get(motor) !== client) continue;
      this.#reporters.delete(motor);
      this.isChanged = true;
      if (isClean || this.#absent.has(motor)) continue;
      this.#absent.add(motor);
      facts.push({ kind: 'drive-presence', motor, online: false, receivedAt });
    }
    for (const sensor of this.#sensorsOf.get(client) ?? []) {
      if (this.#feeders.get(sensor) !== client) continue;
      this.#feeders.delete(sensor);
      if (isClean || this.#offline.has(sensor)) continue;
      this.#offline.add(sensor);
      facts.push({ kind: 'sensor-presence', sensor, online: false, device: '', receivedAt });
    }
    this.#motorsOf.delete(client);
    this.#sensorsOf.delete(client);
  }

  /** What to store; `isChanged` says whether it must be. */
  record(): PresenceRecord {
    this.isChanged = false;
    return { reporting: [...this.#reporters.keys()].sort() };
  }

  #reports(client: string, motor: MotorKey): void {
    const before = this.#reporters.get(motor);
    if (before === client) return;
    if (before === undefined) this.isChanged = true;
    this.#reporters.set(motor, client);
    addTo(this.#motorsOf, client, motor);
  }

  #feeds(client: string, sensor: SensorKey): void {
    if (this.#feeders.get(sensor) === client) return;
    this.#feeders.set(sensor, client);
    addTo(this.#sensorsOf, client, sensor);
  }
}

function addTo(map: Map<string, Set<string>>, key: string, value: string): void {
  const set = map.get(key);
  if (set === undefined) map.set(key, new Set([value]));
  else set.add(value);
}
