/**
 * A sensor's devices as senders: they sample their counter, buffer while the line is down, and send what they were made
 * to send - which may be less than one would wish.
 */
import { readingTopic, sensorPresenceTopic } from '../shared/topics.js';
import { openClock } from './clock.js';
import type { DeviceLives } from './device-lives.js';
import { type Interval, joinIntervals, openIntervalCursor } from './happenings.js';
import { openLine, type LineEvent } from './line.js';
import type { Message, ReadingNote, SegmentTruth, Send, Source } from './messages.js';
import type { MotorLife } from './motor.js';
import { cellAt } from './motor.js';
import type { NetworkPath } from './network.js';
import type { PulseTrain } from './pulses.js';
import type { Random } from './random.js';
import type { DeviceScenario } from './scenario.js';

export interface DevicePlace {
  readonly site: string;
  readonly motor: string;
  readonly position: string;
  readonly span: Interval;
  readonly life: MotorLife;
  readonly lives: DeviceLives;
  readonly train: PulseTrain;
  /** ascending: no network; silent although connected; in a function check */
  readonly outages: readonly Interval[];
  readonly silences: readonly Interval[];
  readonly checks: readonly Interval[];
}

const REPLAY_DELAY_MS = 100;
const FIRMWARE = '2.1.0';

/** Sends in order of time; readings never before their sample. */
export class DeviceSource implements Source {
  private readonly client: string;
  private readonly topic: string;
  private readonly clock: (at: number) => number;
  private readonly counter: (at: number) => number;
  private readonly line: LineEvent[];
  private readonly inSilence: (at: number) => Interval | null;
  private lineIndex = 0;
  private segmentIndex = 0;
  private segmentBase: number;
  private seq: number;
  private isOnline = false;
  private readingAt: number;
  private sampledAt: number;
  private buffer: Send[] = [];
  private outbox: Send[] = [];

  constructor(
    private readonly place: DevicePlace,
    private readonly device: DeviceScenario,
    private readonly random: Random,
    private readonly path: NetworkPath,
  ) {
    const { site, motor, position, span, lives } = place;
    this.client = `${motor}-${position}`;
    this.topic = readingTopic(site, motor, position);
    this.clock = openClock(device.clock, span.from);
    this.counter = place.train.openCounter();
    this.segmentBase = 0;
    this.seq = lives.firstSeq;
    this.readingAt = span.from + Math.round(random.between(0.05, 1) * device.intervalMs);
    this.sampledAt = span.from;
    this.inSilence = openIntervalCursor(place.silences);
    const unpowered = lives.segments.slice(1).map((segment, i) => {
      return { from: lives.segments[i]!.poweredTo, to: segment.poweredFrom };
    });
    this.line = openLine(joinIntervals([...place.outages, ...unpowered]), span);
  }

  advance(until: number, out: Message[]): void {
    for (;;) {
      const event = this.line[this.lineIndex];
      const lineAt = event?.at ?? Infinity;
      this.skipUnpowered(lineAt);
      if (Math.min(lineAt, this.readingAt) >= until) break;
      if (event !== undefined && lineAt <= this.readingAt) {
        this.lineIndex += 1;
        this.changeLine(event);
      } else {
        this.takeReading();
      }
    }
    this.outbox.sort((a, b) => a.at - b.at);
    let sent = 0;
    for (; sent < this.outbox.length && this.outbox[sent]!.at < until; sent++)
      this.path.carry(this.outbox[sent]!, out);
    this.outbox.splice(0, sent);
  }

  /**
   * Power went off before the next reading: what was buffered is gone, and the next device or boot begins. Not before
   * the line has had its say until then.
   */
  private skipUnpowered(lineAt: number): void {
    const { segments } = this.place.lives;
    for (;;) {
      const { poweredTo } = segments[this.segmentIndex]!;
      if (this.readingAt < poweredTo || lineAt <= poweredTo) return;
      const next = segments[this.segmentIndex + 1];
      this.buffer = [];
      if (next === undefined) {
        this.readingAt = Infinity;
        return;
      }
      this.segmentIndex += 1;
      this.segmentBase = this.place.train.count(this.place.span.from, next.poweredFrom);
      this.seq = 0;
      this.sampledAt = next.poweredFrom;
      this.readingAt = next.poweredFrom + Math.round(this.random.between(0.3, 1) * this.device.intervalMs);
    }
  }

  private changeLine(event: LineEvent): void {
    const { at, kind } = event;
    const device = this.deviceAt(at);
    if (kind === 'will') {
      this.push({ ...this.linePresence(at, false, device), isWill: true });
      return;
    }
    this.isOnline = kind === 'connect';
    this.push({ at, client: this.client, topic: '', payload: {}, retain: false, kind: 'line', event: kind });
    if (kind === 'disconnect') {
      this.holdBack(at);
      return;
    }
    this.push(this.linePresence(at + 10, true, device));
    const { replay, paceMs } = this.device.outages;
    let sendAt =
      at + (replay === 'backlog-first' ? REPLAY_DELAY_MS : Math.round(this.device.intervalMs * 1.5));
    for (const reading of this.buffer) {
      this.push({ ...reading, at: sendAt });
      sendAt += paceMs;
    }
    this.buffer = [];
  }

  /** The line went down during a replay: what has not left yet goes back into the buffer. */
  private holdBack(at: number): void {
    const waits = (send: Send): boolean => send.kind === 'reading' && send.at > at;
    this.buffer = this.outbox.filter(waits);
    this.outbox = this.outbox.filter((send) => !waits(send));
  }

  private linePresence(at: number, online: boolean, device: string): Send {
    const { site, motor, position } = this.place;
    const payload = { online, device, firmware: FIRMWARE };
    const topic = sensorPresenceTopic(site, motor, position);
    return { at, client: this.client, topic, payload, retain: true, kind: 'line' };
  }

  /** The device that is in place, or that was there last. */
  private deviceAt(at: number): string {
    const { segments } = this.place.lives;
    let device = segments[0]!.device;
    for (const segment of segments) if (segment.poweredFrom <= at) device = segment.device;
    return device;
  }

  private takeReading(): void {
    const { device, random } = this;
    const at = this.readingAt;
    this.readingAt =
      at + Math.max(1, device.intervalMs + Math.round(random.between(-device.jitterMs, device.jitterMs)));
    const silence = this.inSilence(at);
    if (silence !== null) return;
    const segment = this.place.lives.segments[this.segmentIndex]!;
    const unwrapped = segment.initialCount + this.counter(at) - this.segmentBase;
    const isTorn = device.counterBits !== 16 && random.chance(device.tornShare);
    const payload = this.writePayload(segment, at, unwrapped, isTorn);
    const note: ReadingNote = { segment, at, unwrapped, isTorn };
    this.emit({ at, client: this.client, topic: this.topic, payload, retain: false, kind: 'reading', note });
    if (random.chance(device.garbageShare)) {
      const cut = Buffer.from(JSON.stringify(payload).slice(0, -3));
      this.emit({
        at: at + 1,
        client: this.client,
        topic: this.topic,
        payload: cut,
        retain: false,
        kind: 'reading',
      });
    }
    segment.sent += 1;
    this.seq += 1;
    this.sampledAt = at;
  }

  private writePayload(segment: SegmentTruth, at: number, unwrapped: number, isTorn: boolean): object {
    const { sends, counterBits } = this.device;
    const modulus = counterBits === 53 ? Number.MAX_SAFE_INTEGER : 2 ** counterBits;
    const tear = isTorn ? (counterBits === 53 ? 2 ** 40 : 2 ** 31) : 0;
    const payload: Record<string, unknown> = {};
    if (sends.device) payload.device = segment.device;
    payload.count = (unwrapped + tear) % modulus;
    if (sends.at) payload.at = this.clock(at);
    if (sends.seq) payload.seq = this.seq;
    if (sends.boot) payload.boot = segment.boot;
    if (sends.upMs) payload.up_ms = at - segment.poweredFrom;
    if (sends.temperature) {
      const { life } = this.place;
      payload.temperature_c = Math.round(10 * life.temperatureC[cellAt(life, at)]!) / 10;
    }
    if (sends.supply) payload.supply_v = Math.round(100 * this.random.normal(24, 0.05)) / 100;
    if (this.place.checks.some(({ from, to }) => from < at && to > this.sampledAt)) payload.check = true;
    return payload;
  }

  private emit(send: Send): void {
    if (this.isOnline) {
      this.push(send);
      return;
    }
    this.buffer.push(send);
    if (this.buffer.length > this.device.outages.buffer) this.buffer.shift();
  }

  private push(send: Send): void {
    this.outbox.push(send);
  }
}
