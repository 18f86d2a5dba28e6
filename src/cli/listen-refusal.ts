/** Why a port cannot be listened on, in words that say what to do. */
import { type Endpoint, formatEndpoint } from '../config/endpoint.js';
import { CommandFailure } from './command.js';

/** `what` is MQTT or HTTP, as its option is called. Any other error comes back as it is. */
export function explainAddress(error: unknown, what: string, endpoint: Endpoint): unknown {
  const code = error instanceof Error && 'code' in error ? error.code : '';
  const option = `--${what.toLowerCase()}`;
  const place = formatEndpoint(endpoint);
  if (code === 'EADDRINUSE') {
    return new CommandFailure(
      `${what} cannot listen on ${place}: something listens there already.`,
      `Stop it, or choose another port with ${option}.`,
    );
  }
  if (code === 'EACCES' || code === 'EADDRNOTAVAIL') {
    return new CommandFailure(
      `${what} cannot listen on ${place}: this machine or account may not use it.`,
      `Choose another address with ${option}.`,
    );
  }
  return error;
}
