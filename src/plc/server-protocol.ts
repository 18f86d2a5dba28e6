/**
 * What the gateway and a server process for PLC or HMI say to one another, as JSON over the channel that Node.js opens to a
 * child. The gateway sends one beat and waits until it is taken, so that a slow server has one message in its queue at most.
 */
import type { News } from './news.js';

export interface Beat {
  readonly kind: 'beat';
  readonly id: number;
  /** messages are taken in and stored */
  readonly isReady: boolean;
  /** the store was read, so what is missing is not known */
  readonly isLoaded: boolean;
  /** of the configuration that the gateway runs, hex digits; most of its changes leave a server as it is */
  readonly revision: string;
  /** what the gateway's clock adds to the machine's, ms */
  readonly clockOffsetMs: number;
  readonly news: News;
}

export type ToServer<Settings> =
  | { readonly kind: 'start'; readonly settings: Settings }
  | Beat
  | { readonly kind: 'answer'; readonly id: number; readonly value: unknown; readonly fault: string | null }
  | { readonly kind: 'stop' };

export type FromServer =
  | { readonly kind: 'listening'; readonly port: number; readonly says: string }
  /** it cannot serve; `says` with what to do about it */
  | { readonly kind: 'failed'; readonly says: string }
  | { readonly kind: 'taken'; readonly id: number }
  | { readonly kind: 'said'; readonly level: 'info' | 'warn'; readonly text: string }
  | { readonly kind: 'figures'; readonly figures: Readonly<Record<string, number>> }
  | { readonly kind: 'ask'; readonly id: number; readonly wish: unknown };
