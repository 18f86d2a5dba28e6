/** What the main thread and the forwarder say to one another. Everything here survives a structured clone. */
import type { AdviceRow } from '../../shared/write-messages.js';
import type { BackfillWish } from './backfill.js';
import type { SinkSettings } from './registry.js';
import type { SinkStatus } from './sink-status.js';

export interface ForwardSettings {
  readonly dataDir: string;
  readonly site: string;
  readonly sensors: readonly string[];
  readonly motors: readonly string[];
  readonly sinks: readonly SinkSettings[];
  /** what the configuration says of its alarms, by id */
  readonly advice: ReadonlyMap<string, AdviceRow>;
  /** what the gateway's clock adds to the machine's, ms, at the start */
  readonly clockOffsetMs: number;
}

export type ForwardCall =
  | { readonly do: 'ledger'; readonly sink: string }
  | { readonly do: 'retry'; readonly sink: string }
  | { readonly do: 'test'; readonly sink: string }
  | { readonly do: 'backfill'; readonly sink: string; readonly wish: BackfillWish }
  /** a person let the gateway go on: what its clock adds to the machine's now, ms */
  | { readonly do: 'follow-clock'; readonly offsetMs: number }
  | { readonly do: 'stop' };

export interface ToForwarder {
  readonly id: number;
  readonly call: ForwardCall;
}

export type LogLevel = 'info' | 'warn' | 'error';

export type FromForwarder =
  | { readonly kind: 'settled'; readonly done: ReadonlyMap<number, number> }
  | { readonly kind: 'status'; readonly status: readonly SinkStatus[] }
  | { readonly kind: 'log'; readonly level: LogLevel; readonly facts: object; readonly text: string }
  | { readonly kind: 'answer'; readonly id: number; readonly value: unknown; readonly fault: string | null };
