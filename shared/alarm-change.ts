/** Another setpoint or delay for one motor's alarm on its rate, to be rehearsed; what is left out stays as it is. */
export interface AlarmChange {
  readonly motor: string;
  readonly kind: 'rate-high' | 'rate-high-high';
  readonly setpointPerMin?: number | undefined;
  readonly deadbandPerMin?: number | undefined;
  readonly onDelayMs?: number | undefined;
  readonly offDelayMs?: number | undefined;
}
