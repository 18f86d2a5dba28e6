/**
 * Whether the primary host is there, by its STATE messages: JSON under `spBv1.0/STATE/<host>` as in 3.0, or the word ONLINE or
 * OFFLINE under `STATE/<host>` as before. A host that uses the newer form is believed in that one.
 * Source: Sparkplug 3.0, chapters 4 (STATE) and 5 (phid-wait, phid-offline); the older form: version 2.2, from memory.
 */
const STATE_BYTES_MOST = 1_024;

export class HostState {
  private newer: { readonly isOnline: boolean; readonly timestamp: number } | null = null;
  private older: boolean | null = null;
  /** that it is online was only kept by the broker so far: it may be dead, or not connected again yet */
  private isHearsay = false;
  /** counts the lives of the host that were heard of, also one that began before the end of the last was told */
  life = 0;

  constructor(private readonly host: string) {}

  get topics(): readonly [string, string] {
    return [`spBv1.0/STATE/${this.host}`, `STATE/${this.host}`];
  }

  get isOnline(): boolean {
    return this.newer?.isOnline ?? this.older ?? false;
  }

  /** For a new connection: what is retained there will tell. */
  forget(): void {
    this.newer = null;
    this.older = null;
  }

  /** False: it was none of its messages, or one that says nothing. `isRetained`: the broker had kept it. */
  hear(topic: string, payload: Buffer, isRetained: boolean): boolean {
    const [newer, older] = this.topics;
    if (payload.length > STATE_BYTES_MOST) return false;
    if (topic === older) {
      const word = payload.toString().trim();
      if (word !== 'ONLINE' && word !== 'OFFLINE') return false;
      this.countLife(word === 'ONLINE', this.older === true, isRetained);
      this.older = word === 'ONLINE';
      return true;
    }
    if (topic !== newer) return false;
    const state = readState(payload.toString());
    // an older message that comes late, such as a will of the connection before, changes nothing
    if (state === null || (this.newer !== null && state.timestamp < this.newer.timestamp)) return false;
    // a host that comes back says a newer time; what a broker kept for one that died without its will may say online too
    const isSame = this.newer?.isOnline === true && this.newer.timestamp === state.timestamp;
    this.countLife(state.isOnline, isSame, isRetained);
    this.newer = state;
    return true;
  }

  /** One that says itself what was only kept has connected after us; said again after that, it tells nothing. */
  private countLife(isOnline: boolean, isSame: boolean, isRetained: boolean): void {
    if (isOnline && (!isSame || (this.isHearsay && !isRetained))) this.life += 1;
    this.isHearsay = isOnline && isRetained;
  }
}

function readState(text: string): { isOnline: boolean; timestamp: number } | null {
  try {
    const state = JSON.parse(text) as { online?: unknown; timestamp?: unknown } | null;
    const { online, timestamp } = state ?? {};
    if (typeof online !== 'boolean' || typeof timestamp !== 'number') return null;
    return { isOnline: online, timestamp };
  } catch {
    return null;
  }
}
