/** The links between a sensor and the receivers, in words; and what is broken, said once for all sensors that share it. Pure. */
import type { ChainLink, LinkName, SensorChain } from '../data/station-bodies.js';
import type { VerdictKind } from '../parts/verdicts.js';

/** In the order of the chain. `asks`: the question that the link answers. */
export const LINK_WORDS: Readonly<Record<LinkName, { readonly name: string; readonly asks: string }>> = {
  seen: { name: 'Seen', asks: 'Do its messages arrive?' },
  authorised: { name: 'Authorised', asks: 'May its login publish here?' },
  understood: { name: 'Understood', asks: 'Can they be read?' },
  plausible: { name: 'Plausible', asks: 'Can its counts and times be true?' },
  'run-state': { name: 'Run state heard', asks: 'Does its drive say whether the motor runs?' },
  classified: { name: 'Classified', asks: 'Does its time go into the class it should?' },
  stored: { name: 'Stored', asks: 'Is it on disk?' },
  forwarded: { name: 'Forwarded', asks: 'Do the receivers get it?' },
};

export const LINK_ORDER = Object.keys(LINK_WORDS) as LinkName[];

export const LINK_VERDICTS: Readonly<Record<ChainLink['state'], readonly [VerdictKind, string]>> = {
  ok: ['good', 'holds'],
  fault: ['wrong', 'at fault'],
  unknown: ['unknown', 'not known'],
};

export interface Break {
  readonly link: LinkName;
  readonly says: string;
  readonly todo: string;
  readonly sensors: readonly string[];
}

/** Links that do not hang on the readings: a fault of theirs is one of its own, wherever else the chain is broken. */
const APART: readonly LinkName[] = ['run-state', 'stored', 'forwarded'];

/**
 * The first link at fault of each chain, and those at fault apart from it; sensors that share link and words share the entry. Most
 * sensors first.
 */
export function listBreaks(chains: readonly SensorChain[]): Break[] {
  const found = new Map<string, { link: LinkName; says: string; todo: string; sensors: string[] }>();
  for (const { sensor, broken, chain } of chains) {
    for (const { link, state, says, todo } of chain) {
      if (state !== 'fault' || (link !== broken && !APART.includes(link))) continue;
      const key = JSON.stringify([link, says, todo]);
      const kept = found.get(key) ?? { link, says, todo, sensors: [] };
      kept.sensors.push(sensor);
      found.set(key, kept);
    }
  }
  return [...found.values()].sort(
    (a, b) => b.sensors.length - a.sensors.length || LINK_ORDER.indexOf(a.link) - LINK_ORDER.indexOf(b.link),
  );
}

/** Chains that hold as far as anything is known; the rest is not known yet. */
export function countChains(chains: readonly SensorChain[]): { held: number; broken: number; open: number } {
  const broken = chains.filter((each) => each.broken !== null).length;
  const held = chains.filter(
    ({ broken: at, chain }) =>
      at === null && chain.every(({ link, state }) => state === 'ok' || link === 'forwarded'),
  ).length;
  return { held, broken, open: chains.length - held - broken };
}

/** `booster-1/de` -> `booster-1`, `de` */
export function splitSensor(sensor: string): readonly [motor: string, position: string] {
  const [motor = '', position = ''] = sensor.split('/');
  return [motor, position];
}
