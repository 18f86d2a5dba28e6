/**
 * Who reports a drive: on every change, with a heartbeat, or by polling without knowing when the state was entered. What
 * it says may be less than the truth: some never say that they are starting.
 */
import { drivePresenceTopic, driveStateTopic } from '../shared/topics.js';
import { openClock } from './clock.js';
import { type Interval, openIntervalCursor } from './happenings.js';
import { type LineEvent, openLine } from './line.js';
import type { Message, Send, Source } from './messages.js';
import { cellAt, type MotorLife, type RunState } from './motor.js';
import type { NetworkPath } from './network.js';
import type { Random } from './random.js';
import type { DriveScenario } from './scenario.js';

/** A stretch of one state and modulation as the drive would say it. */
interface Reported {
  readonly from: number;
  readonly state: RunState;
  readonly modulating: boolean;
  /** when the state was entered, whatever the modulation did since */
  readonly since: number;
}

export interface DrivePlace {
  readonly site: string;
  readonly life: MotorLife;
  readonly span: Interval;
  /** ascending: no network; connected but mute */
  readonly outages: readonly Interval[];
  readonly silences: readonly Interval[];
}

/** A change in speed worth a message from a drive that reports on change. */
const SPEED_STEP_SHARE = 0.01;

export class DriveSource implements Source {
  private readonly client: string;
  private readonly clock: (at: number) => number;
  private readonly reported: Reported[];
  private readonly line: LineEvent[];
  private readonly inSilence: (at: number) => Interval | null;
  private readonly beatMs: number | null;
  private readonly beatPhaseMs: number;
  private since: number;
  private isOnline = false;
  private outbox: Send[] = [];

  constructor(
    private readonly place: DrivePlace,
    private readonly drive: DriveScenario,
    private readonly random: Random,
    private readonly path: NetworkPath,
  ) {
    const { life, span } = place;
    this.client = `${life.scenario.name}-drive`;
    this.clock = openClock(drive.clock, span.from);
    this.reported = tellPhases(life, drive.sends.starting);
    this.line = drive.reporting === 'none' ? [] : openLine(place.outages, span);
    this.inSilence = openIntervalCursor(place.silences);
    this.beatMs = { change: null, none: null, heartbeat: drive.heartbeatMs, polled: drive.pollMs }[
      drive.reporting
    ];
    this.beatPhaseMs = Math.floor(random.unit() * (this.beatMs ?? 1));
    this.since = span.from;
  }

  advance(until: number, out: Message[]): void {
    if (this.drive.reporting === 'none') return;
    const moments = this.findMoments(this.since, until);
    this.since = until;
    for (const moment of moments) {
      if (moment.line !== null) this.changeLine(moment.line);
      else if (this.isOnline && this.inSilence(moment.at) === null) this.tellState(moment.at);
    }
    this.outbox.sort((a, b) => a.at - b.at);
    let sent = 0;
    for (; sent < this.outbox.length && this.outbox[sent]!.at < until; sent++)
      this.path.carry(this.outbox[sent]!, out);
    this.outbox.splice(0, sent);
  }

  /** Everything in [from, to) that makes the reporter speak, in order. */
  private findMoments(from: number, to: number): { at: number; line: LineEvent | null }[] {
    const inside = ({ at }: { at: number }): boolean => at >= from && at < to;
    const moments: { at: number; line: LineEvent | null }[] = this.line
      .filter(inside)
      .map((line) => ({ at: line.at, line }));
    const speak = (at: number): void => {
      if (inside({ at })) moments.push({ at, line: null });
    };
    if (this.drive.reporting !== 'polled') for (const report of this.reported) speak(report.from);
    if (this.drive.reporting === 'change') for (const at of this.findSpeedSteps(from, to)) speak(at);
    for (const silence of this.place.silences) speak(silence.to);
    if (this.beatMs !== null) {
      const origin = this.place.span.from + this.beatPhaseMs;
      const first = Math.ceil((from - origin) / this.beatMs);
      for (let at = origin + first * this.beatMs; at < to; at += this.beatMs) speak(at);
    }
    return moments.sort((a, b) => a.at - b.at || (a.line === null ? 1 : 0) - (b.line === null ? 1 : 0));
  }

  private findSpeedSteps(from: number, to: number): number[] {
    const { life } = this.place;
    const steps: number[] = [];
    for (let cell = Math.max(1, cellAt(life, from)); cell < life.speedRpm.length; cell++) {
      const at = life.from + cell * life.cellMs;
      if (at >= to) break;
      const before = life.speedRpm[cell - 1]!;
      if (Math.abs(life.speedRpm[cell]! - before) > SPEED_STEP_SHARE * before) steps.push(at);
    }
    return steps;
  }

  private changeLine({ at, kind }: LineEvent): void {
    const { site, life } = this.place;
    const presence = {
      client: this.client,
      topic: drivePresenceTopic(site, life.scenario.name),
      retain: true,
    };
    if (kind === 'will') {
      this.outbox.push({ ...presence, at, payload: { online: false }, kind: 'line', isWill: true });
      return;
    }
    this.isOnline = kind === 'connect';
    this.outbox.push({
      at,
      client: this.client,
      topic: '',
      payload: {},
      retain: false,
      kind: 'line',
      event: kind,
    });
    if (!this.isOnline) return;
    this.outbox.push({ ...presence, at: at + 5, payload: { online: true }, kind: 'line' });
    this.tellState(at + 10);
  }

  private findReport(at: number): Reported {
    let low = 0;
    let high = this.reported.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.reported[middle]!.from <= at) low = middle;
      else high = middle - 1;
    }
    return this.reported[low]!;
  }

  /** What the drive is doing at `at`, observed and sent a moment later. */
  private tellState(at: number): void {
    const { life } = this.place;
    const { sends } = this.drive;
    const sentAt = at + Math.floor(this.random.unit() * this.drive.latencyMs);
    const seenAt = this.drive.reporting === 'polled' ? at : sentAt;
    const { state, modulating, since } = this.findReport(seenAt);
    const payload: Record<string, unknown> = { state };
    if (sends.at) payload.at = this.clock(seenAt);
    if (sends.since && this.drive.reporting !== 'polled') payload.since = this.clock(since);
    if (sends.modulating) payload.modulating = modulating;
    if (sends.condition) Object.assign(payload, tellCondition(life, seenAt, state, modulating));
    const topic = driveStateTopic(this.place.site, life.scenario.name);
    this.outbox.push({ at: sentAt, client: this.client, topic, payload, retain: true, kind: 'drive' });
  }
}

/** Phases as the drive would name them; equal neighbours are one. */
function tellPhases(life: MotorLife, saysStarting: boolean): Reported[] {
  const reported: Reported[] = [];
  for (const phase of life.phases) {
    const isRamp = phase.state === 'starting' || phase.state === 'stopping';
    const state = isRamp && !saysStarting ? 'running' : phase.state;
    const last = reported[reported.length - 1];
    if (last !== undefined && last.state === state && last.modulating === phase.modulating) continue;
    const since = last !== undefined && last.state === state ? last.since : phase.from;
    reported.push({ from: phase.from, state, modulating: phase.modulating, since });
  }
  return reported;
}

function tellCondition(life: MotorLife, at: number, state: RunState, modulating: boolean): object {
  const cell = cellAt(life, at);
  const { switchingKhz, dcLinkV } = life.scenario;
  const isTurning = state === 'running';
  const ramp = state === 'starting' || state === 'stopping' ? 0.5 : 0;
  const part = isTurning ? 1 : ramp;
  return {
    speed_rpm: Math.round(life.speedRpm[cell]! * part),
    load_pct: Math.round(life.loadPct[cell]! * part * 10) / 10,
    switching_khz: modulating ? switchingKhz : 0,
    dc_link_v: dcLinkV,
  };
}
