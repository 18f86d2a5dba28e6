/** The log: JSON lines on standard error, or short readable lines where standard error is a terminal. */
import { pino, type DestinationStream, type Logger } from 'pino';
import { LEVEL_NAMES } from './log-levels.js';

/** Fields that every line has anyway, and that the readable form leaves out. */
const OWN_FIELDS = new Set(['level', 'time', 'pid', 'hostname', 'msg', 'err']);

function writeReadable(line: string): string {
  const entry = JSON.parse(line) as Record<string, unknown>;
  const time = new Date(Number(entry['time'])).toISOString().slice(11, 23);
  const level = LEVEL_NAMES[Number(entry['level'])] ?? String(entry['level']);
  const rest = Object.entries(entry)
    .filter(([name]) => !OWN_FIELDS.has(name))
    .map(([name, value]) => ` ${name}=${typeof value === 'string' ? value : JSON.stringify(value)}`)
    .join('');
  const error = entry['err'] as { message?: string } | undefined;
  return `${time} ${level.padEnd(5)} ${typeof entry['msg'] === 'string' ? entry['msg'] : ''}${rest}${error?.message === undefined ? '' : `: ${error.message}`}\n`;
}

/** `level`: trace, debug, info, warn, error or silent. */
export function openLog(level: string, isTty: boolean): Logger {
  const readable: DestinationStream = { write: (line) => void process.stderr.write(writeReadable(line)) };
  const destination = isTty ? readable : pino.destination({ dest: 2, sync: true });
  return pino({ level, base: { pid: process.pid } }, destination);
}
