/**
 * A fleet of like sensors as facts or as capture lines, without a wire: for the benches of core, replay, memory and disk.
 * Readings come each `intervalMs`, spread over the interval; motors run, except for a pause of ten minutes in every four hours.
 */
import type { DriveFact, Fact, ReadingFact } from '../../src/core/facts.js';

export interface FleetWishes {
  readonly sensors: number;
  readonly intervalMs: number;
  /** time of the first reading */
  readonly startAt: number;
  readonly durationMs: number;
}

const CYCLE_MS = 4 * 3_600_000;
const PAUSE_FROM_MS = 2 * 3_600_000;
const PAUSE_MS = 600_000;
const LATENCY_MS = 40;

export function motorName(index: number): string {
  return `m${index + 1}`;
}

/** Pulses of reading `seq` of a sensor: about ten, spread by a fixed mixing function, so that runs are equal. */
function pulsesOf(index: number, seq: number): number {
  let x = Math.imul(index * 7919 + seq + 1, 0x9e3779b1) >>> 0;
  x = Math.imul(x ^ (x >>> 15), 0x85ebca6b) >>> 0;
  return 5 + ((x >>> 13) % 11);
}

interface Edge {
  readonly at: number;
  readonly index: number;
  readonly state: 'running' | 'stopped';
}

function edgesOf(wishes: FleetWishes): Edge[] {
  const edges: Edge[] = [];
  for (let index = 0; index < wishes.sensors; index++) {
    edges.push({ at: wishes.startAt - 60_000, index, state: 'running' });
    const shift = Math.floor((index / wishes.sensors) * 3_600_000);
    for (let at = PAUSE_FROM_MS + shift; at + PAUSE_MS < wishes.durationMs; at += CYCLE_MS) {
      edges.push({ at: wishes.startAt + at, index, state: 'stopped' });
      edges.push({ at: wishes.startAt + at + PAUSE_MS, index, state: 'running' });
    }
  }
  return edges.sort((a, b) => a.at - b.at || a.index - b.index);
}

/** Visits readings and drive edges in order of time; yields once after each round of the fleet. */
function* visitFleet(
  wishes: FleetWishes,
  onReading: (index: number, seq: number, count: number, at: number) => void,
  onEdge: (edge: Edge) => void,
): Generator<number> {
  const counts = new Float64Array(wishes.sensors);
  const edges = edgesOf(wishes);
  let next = 0;
  const rounds = Math.floor(wishes.durationMs / wishes.intervalMs);
  for (let seq = 0; seq < rounds; seq++) {
    for (let index = 0; index < wishes.sensors; index++) {
      const at =
        wishes.startAt + seq * wishes.intervalMs + Math.floor((index * wishes.intervalMs) / wishes.sensors);
      while (next < edges.length && edges[next]!.at <= at) onEdge(edges[next++]!);
      counts[index]! += pulsesOf(index, seq);
      onReading(index, seq, counts[index]!, at);
    }
    yield seq;
  }
}

/** Number of readings that a fleet sends. */
export function countReadings(wishes: FleetWishes): number {
  return Math.floor(wishes.durationMs / wishes.intervalMs) * wishes.sensors;
}

function driveFact(edge: Edge): DriveFact {
  return {
    kind: 'drive',
    motor: motorName(edge.index),
    state: edge.state,
    modulating: edge.state === 'running',
    at: edge.at,
    since: edge.at,
    speedRpm: edge.state === 'running' ? 1480 : null,
    loadPct: null,
    switchingKhz: null,
    dcLinkV: null,
    receivedAt: edge.at + LATENCY_MS,
  };
}

function readingFact(index: number, seq: number, count: number, at: number): ReadingFact {
  return {
    kind: 'reading',
    sensor: `${motorName(index)}/de`,
    device: `SN-${index + 1}`,
    count,
    at,
    seq,
    boot: 1,
    upMs: null,
    temperatureC: null,
    check: false,
    receivedAt: at + LATENCY_MS,
  };
}

/** Facts in batches of about `batch`, a tick in each second. */
export function makeBatches(wishes: FleetWishes, batch: number): Fact[][] {
  const batches: Fact[][] = [];
  let current: Fact[] = [];
  let tickedAt = 0;
  const put = (fact: Fact, arrived: number): void => {
    if (arrived >= tickedAt + 1000) {
      tickedAt = Math.floor(arrived / 1000) * 1000;
      current.push({ kind: 'tick', now: tickedAt });
    }
    current.push(fact);
    if (current.length < batch) return;
    batches.push(current);
    current = [];
  };
  const rounds = visitFleet(
    wishes,
    (index, seq, count, at) => put(readingFact(index, seq, count, at), at + LATENCY_MS),
    (edge) => put(driveFact(edge), Math.max(edge.at, wishes.startAt) + LATENCY_MS),
  );
  while (rounds.next().done !== true);
  if (current.length > 0) batches.push(current);
  return batches;
}

/** Gives capture lines, each with its line feed, to `line`; yields once after each round of the fleet. */
export function visitCapture(
  wishes: FleetWishes,
  site: string,
  line: (text: string) => void,
): Generator<number> {
  return visitFleet(
    wishes,
    (index, seq, count, at) => {
      const payload = `{"device":"SN-${index + 1}","boot":1,"seq":${seq},"count":${count},"at":${at},"temperature_c":41.5}`;
      const topic = `${site}/in/${motorName(index)}/de/reading`;
      line(
        `{"arrived":${at + LATENCY_MS},"client":"s${index + 1}","topic":"${topic}","payload":${payload}}\n`,
      );
    },
    (edge) => {
      const speed = edge.state === 'running' ? 1480 : 0;
      const payload = `{"state":"${edge.state}","at":${edge.at},"since":${edge.at},"speed_rpm":${speed}}`;
      const topic = `${site}/in/${motorName(edge.index)}/drive/state`;
      const arrived = Math.max(edge.at, wishes.startAt) + LATENCY_MS;
      line(
        `{"arrived":${arrived},"client":"drives","topic":"${topic}","payload":${payload},"retain":true}\n`,
      );
    },
  );
}
