/** The views, in the order of the navigation: one line each. */
import type { View } from './view.js';

export const VIEWS: readonly View[] = [
  {
    segment: '',
    title: 'Now',
    place: 'navigation',
    load: async () => (await import('./now/now-screen.js')).NowScreen,
  },
  {
    segment: 'alarms',
    title: 'Alarms',
    place: 'navigation',
    load: async () => (await import('./alarms/alarms-screen.js')).AlarmsScreen,
  },
  {
    segment: 'kiosk',
    title: 'Wall view',
    place: 'bare',
    load: async () => (await import('./kiosk/kiosk-screen.js')).KioskScreen,
  },
];
