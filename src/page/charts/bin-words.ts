/** Names of condition bins in words with units: `speed 600..1200, load ..50` -> "speed 600 to 1200 rpm, load below 50 %". Pure. */

const UNITS: Readonly<Record<string, string>> = {
  speed: 'rpm',
  load: '%',
  switching: 'kHz',
  temperature: '°C',
  'dc-link': 'V',
};

const WHOLE: Readonly<Record<string, string>> = {
  all: 'all conditions',
  mixed: 'conditions changed within an increment',
  learning: 'before the bins were learnt',
};

export function describeBin(bin: string): string {
  return WHOLE[bin] ?? bin.split(', ').map(describeCell).join(', ');
}

function describeCell(cell: string): string {
  const unknown = /^(\S+) \?$/.exec(cell);
  if (unknown !== null) return `${unknown[1]!} not known`;
  const found = /^(\S+) (-?[\d.]*?)\.\.(-?[\d.]*)$/.exec(cell);
  if (found === null) return cell;
  const [, axis = '', low = '', high = ''] = found;
  const unit = UNITS[axis] === undefined ? '' : ` ${UNITS[axis]}`;
  if (low === '') return high === '' ? axis : `${axis} below ${high}${unit}`;
  return high === '' ? `${axis} ${low}${unit} and above` : `${axis} ${low} to ${high}${unit}`;
}
