/** The view "Wiring": the plant's chains, one motor's chains with its commissioning, or one run of commissioning. */
import { RunScreen } from '../commissioning/run-screen.js';
import type { ScreenProps } from '../view.js';
import { MotorWiring } from './motor-wiring.js';
import { PlantWiring } from './plant-wiring.js';
import '../parts/view.css';
import '../parts/station.css';
import './wiring.css';

/** `/wiring`, `/wiring/MOTOR`, `/wiring/MOTOR/run/NUMBER` */
export function WiringScreen({ rest, query }: ScreenProps) {
  const [motor = '', part = '', run = ''] = rest;
  if (motor === '') return <PlantWiring onlyBroken={query.get('show') === 'broken'} />;
  if (part === 'run' && /^[1-9]\d{0,8}$/.test(run))
    return <RunScreen motor={motor} id={Number(run)} key={run} />;
  return <MotorWiring motor={motor} key={motor} />;
}
