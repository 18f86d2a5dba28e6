/**
 * Sinks as the forwarder gets them: with the passwords, keys and certificates that the configuration refers to, and with
 * paths that do not depend on where the program was started.
 */
import { readFileSync, statSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import type { Config } from './config.js';
import { readSecret } from './secrets.js';
import { PEM_STEMS, SECRET_STEMS } from './sink-common-schema.js';

export type SinkConfig = Config['sinks'][number];
export type ResolvedSink = SinkConfig & {
  /** by stem: password, secret, token, and as PEM: ca, cert, key */
  readonly secrets: ReadonlyMap<string, string>;
};

const PEM_BYTES_MAX = 1_048_576;
/** A secret shorter than this can be guessed. */
const SECRET_LENGTH_MIN = 16;

/** Throws with every secret that cannot be had, a line each. `warnings`: files that more people may read than should. */
export function resolveSinks(
  config: Config,
  environment: NodeJS.ProcessEnv = process.env,
): { sinks: ResolvedSink[]; warnings: string[] } {
  const folder = dirname(config.file);
  const problems: string[] = [];
  const warnings: string[] = [];
  const sinks = config.sinks.map((sink) => {
    const secrets = new Map<string, string>();
    const keys: Readonly<Record<string, unknown>> = { ...sink };
    for (const stem of SECRET_STEMS) {
      const [file, env] = [keys[`${stem}File`], keys[`${stem}Env`]];
      if (typeof file !== 'string' && typeof env !== 'string') continue;
      const found = readSecret(
        typeof file === 'string' ? { file } : { env: env as string },
        folder,
        environment,
      );
      if ('problem' in found) problems.push(`sink "${sink.name}": ${found.problem}`);
      else secrets.set(stem, found.password);
      if ('warning' in found && found.warning !== null)
        warnings.push(`sink "${sink.name}": ${found.warning}`);
    }
    const secret = secrets.get('secret');
    if (secret !== undefined && secret.length < SECRET_LENGTH_MIN)
      problems.push(`sink "${sink.name}": the signing secret has fewer than ${SECRET_LENGTH_MIN} characters`);
    for (const stem of PEM_STEMS) {
      const file = keys[`${stem}File`];
      if (typeof file === 'string') readPem(sink.name, stem, resolve(folder, file), secrets, problems);
    }
    return { ...sink, ...('folder' in sink ? { folder: resolve(folder, sink.folder) } : {}), secrets };
  });
  if (problems.length > 0) throw new Error(problems.join('\n'));
  return { sinks, warnings };
}

function readPem(
  sink: string,
  stem: string,
  path: string,
  secrets: Map<string, string>,
  problems: string[],
): void {
  try {
    const { size } = statSync(path);
    const text = size > PEM_BYTES_MAX ? '' : readFileSync(path, 'utf8');
    if (text.includes('-----BEGIN ')) secrets.set(stem, text);
    else problems.push(`sink "${sink}": ${path} holds nothing in PEM`);
  } catch (error) {
    const reason = error instanceof Error && 'code' in error ? String(error.code) : String(error);
    problems.push(`sink "${sink}": ${path} cannot be read (${reason}): put the ${stem} in PEM there`);
  }
}
