/** Why a server cannot listen, with what to do. */

/** `key`: of the configuration. Any other error comes back as it is. */
export function explainListening(
  error: unknown,
  key: string,
  { host, port }: { readonly host: string; readonly port: number },
): Error {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  const place = `${host}, port ${port}`;
  const reasons: Record<string, string> = {
    EADDRINUSE: `something listens on ${place} already: stop it, or change ${key}`,
    EACCES: `this account may not listen on ${place}: take a port from 1024 on in ${key}, or give the program the right to low ports`,
    EADDRNOTAVAIL: `this machine has no address ${host}: change ${key}`,
    ENOTFOUND: `this machine has no address ${host}: change ${key}`,
  };
  const reason = reasons[code];
  if (reason !== undefined) return new Error(reason);
  return error instanceof Error ? error : new Error(String(error));
}
