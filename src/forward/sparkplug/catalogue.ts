/**
 * Every metric that was ever sent, with its alias and its last value: what births are made of. Groups, aliases and bdSeq
 * outlive a restart; values do not: a birth then says "not known, stale" until the next record.
 */
import type { SinkMemory } from '../sink.js';
import { ALIASES_OF_GROUP, DEFINITIONS, GROUP_KINDS, type GroupKind, type Report } from './metric-groups.js';
import { DataType, Quality, type Metric } from './payload.js';

interface Group {
  readonly device: string;
  readonly kind: GroupKind;
  readonly name: string;
  /** of its first metric */
  readonly alias: number;
  /** newest by event time; null: nothing was sent since the program started */
  latest: Report | null;
}

interface Kept {
  readonly bdSeq: number;
  /** [device, kind, name] in the order of their aliases */
  readonly groups: readonly (readonly [string, GroupKind, string])[];
}

const BD_SEQ_COUNT = 256;
/** Of what the memory takes, with room for what is in doubt. */
const MEMORY_MOST = 750_000;
/** A value that is older than this many periods is stale in a birth. */
const STALE_PERIODS = 3;
const PERIOD_MS: Readonly<Record<string, number>> = { '1m': 60_000, '10m': 600_000, '1h': 3_600_000 };

export class Catalogue {
  /** of the connection at hand; -1: there was none yet */
  bdSeq: number;
  private readonly groups = new Map<string, Group>();
  private readonly byDevice = new Map<string, Group[]>();
  private bytes = 0;

  constructor(private readonly memory: SinkMemory) {
    const kept = readKept(memory.read());
    this.bdSeq = kept.bdSeq;
    for (const [device, kind, name] of kept.groups) this.put(device, kind, name);
  }

  /** For a new connection: 0 at first, then one more each time, 0 after 255. Kept before it is used. */
  takeBdSeq(): number {
    this.bdSeq = (this.bdSeq + 1) % BD_SEQ_COUNT;
    this.keep();
    return this.bdSeq;
  }

  /**
   * Takes in groups that were never sent before, and answers with their devices; '': the node. Kept when it returns.
   * Throws a `RangeError` where there are more than the memory holds.
   */
  learn(reports: readonly Report[]): Set<string> {
    const devices = new Set<string>();
    for (const { device, kind, name } of reports) {
      if (this.groups.has(keyOf(device, name))) continue;
      if (this.bytes + device.length + name.length + 32 > MEMORY_MOST)
        throw new RangeError(`more than ${this.groups.size} groups of metrics: leave out streams or periods`);
      this.put(device, kind, name);
      devices.add(device);
    }
    if (devices.size > 0) this.keep();
    return devices;
  }

  /** In the order in which they were learnt; without the node. */
  devices(): string[] {
    return [...this.byDevice.keys()].filter((name) => name !== '');
  }

  /** All metrics of a device with name, alias, type and current value. `now` in ms. */
  birthMetrics(device: string, now: number): Metric[] {
    return (this.byDevice.get(device) ?? [])
      .flatMap((group) => toBirth(group, now))
      .sort((a, b) => a.timestamp - b.timestamp);
  }

  /** A report as metrics by alias. What is older than what was sent before is historical, whatever the reason. */
  dataMetrics(report: Report): Metric[] {
    const group = this.groups.get(keyOf(report.device, report.name))!;
    const isOlder = group.latest !== null && report.at < group.latest.at;
    const isHistorical = report.isBacklog || isOlder;
    if (!isOlder) group.latest = report;
    return DEFINITIONS[report.kind].map(({ type }, i) => ({
      ...{ name: null, alias: group.alias + i, timestamp: report.at, type, tellsType: false, isHistorical },
      ...{ value: report.values[i]!, quality: report.quality },
      isUncertain: isRate(report.kind, i) ? report.isUncertain : null,
    }));
  }

  private put(device: string, kind: GroupKind, name: string): void {
    const alias = this.groups.size * ALIASES_OF_GROUP + 1;
    const group: Group = { device, kind, name, alias, latest: null };
    this.groups.set(keyOf(device, name), group);
    const beside = this.byDevice.get(device);
    if (beside === undefined) this.byDevice.set(device, [group]);
    else beside.push(group);
    this.bytes += device.length + name.length + 32;
  }

  private keep(): void {
    const groups = [...this.groups.values()].map(({ device, kind, name }) => [device, kind, name] as const);
    this.memory.write(JSON.stringify({ bdSeq: this.bdSeq, groups } satisfies Kept));
  }
}

function keyOf(device: string, name: string): string {
  return `${device} ${name}`;
}

/** The rate alone carries `uncertain`: the sums beside it say how much. */
function isRate(kind: GroupKind, index: number): boolean {
  return kind === 'rollup' && index === 0;
}

function toBirth({ kind, name, alias, latest }: Group, now: number): Metric[] {
  const staleMs = kind === 'rollup' ? STALE_PERIODS * (PERIOD_MS[name.split('/')[1] ?? ''] ?? 0) : Infinity;
  const isStale = latest === null || now - latest.at > staleMs;
  return DEFINITIONS[kind].map((definition, i) => ({
    ...{ name: `${name}/${definition.name}`, alias: alias + i, timestamp: latest?.at ?? now },
    ...{ type: definition.type, tellsType: true, isHistorical: false, value: latest?.values[i] ?? null },
    quality: isStale ? Quality.stale : latest.quality,
    isUncertain: isRate(kind, i) ? (latest?.isUncertain ?? false) : null,
  }));
}

/** Of the node itself: what a host can ask for. Without an alias, so that it can be asked for by name. */
export function controlMetrics(bdSeq: number, now: number): Metric[] {
  const plain = { alias: null, timestamp: now, tellsType: true, isHistorical: false, quality: null };
  return [
    { ...plain, name: 'bdSeq', type: DataType.int64, value: bdSeq, isUncertain: null },
    { ...plain, name: REBIRTH, type: DataType.boolean, value: false, isUncertain: null },
  ];
}

export const REBIRTH = 'Node Control/Rebirth';

function readKept(json: string | null): Kept {
  if (json === null) return { bdSeq: -1, groups: [] };
  const kept = JSON.parse(json) as Kept;
  return { bdSeq: kept.bdSeq, groups: kept.groups.filter(([, kind]) => GROUP_KINDS.includes(kind)) };
}
