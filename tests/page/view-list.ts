/** The views that the browser tests look at: an address of each, and what is there once it shows what it has. */
export interface ViewCase {
  readonly name: string;
  readonly path: string;
  /** visible when the view has its data */
  readonly ready: string;
  /** shows nothing that can be pressed */
  readonly isBare?: boolean;
}

export const VIEW_CASES: readonly ViewCase[] = [
  { name: 'now', path: '/', ready: '.tile .strip-bars' },
  { name: 'alarms', path: '/alarms', ready: '.alarm-list tbody tr' },
  { name: 'alarm', path: '/alarms/booster-4.de-rate-high', ready: '.alarm-past tbody tr' },
  { name: 'alarms-journal', path: '/alarms/journal', ready: '.journal tbody tr' },
  { name: 'alarms-performance', path: '/alarms/performance', ready: '.performance tbody tr' },
  { name: 'alarms-rehearsal', path: '/alarms/rehearsal', ready: '.candidate' },
  { name: 'motor', path: '/motor/booster-4?span=10800000', ready: '.time-chart[data-points] .u-over' },
  { name: 'sisters', path: '/sisters/boosters', ready: '.interval-chart .mark' },
  { name: 'compare', path: '/compare/booster-4', ready: '.compare-none, .answer-sentence' },
  { name: 'plan', path: '/plan/booster-4', ready: '.dossier .cautions' },
  { name: 'kiosk', path: '/kiosk', ready: '.kiosk-motor .strip-bars', isBare: true },
];
