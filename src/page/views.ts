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
    segment: 'motor',
    title: 'Motor',
    place: 'navigation',
    load: async () => (await import('./motor/motor-screen.js')).MotorScreen,
  },
  {
    segment: 'sisters',
    title: 'Sisters',
    place: 'navigation',
    load: async () => (await import('./sisters/sisters-screen.js')).SistersScreen,
  },
  {
    segment: 'compare',
    title: 'Before and after',
    place: 'navigation',
    load: async () => (await import('./compare/compare-screen.js')).CompareScreen,
  },
  {
    segment: 'plan',
    title: 'Plan',
    place: 'navigation',
    load: async () => (await import('./plan/plan-screen.js')).PlanScreen,
  },
  {
    segment: 'wiring',
    title: 'Wiring',
    place: 'navigation',
    load: async () => (await import('./wiring/wiring-screen.js')).WiringScreen,
  },
  {
    segment: 'gateway',
    title: 'Gateway',
    place: 'navigation',
    load: async () => (await import('./gateway/gateway-screen.js')).GatewayScreen,
  },
  {
    segment: 'kiosk',
    title: 'Wall view',
    place: 'bare',
    load: async () => (await import('./kiosk/kiosk-screen.js')).KioskScreen,
  },
];
