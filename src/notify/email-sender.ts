/**
 * One attempt to hand a message to the mail server, and what its answer means. A connection for each message: they are few,
 * and none is held open that a restart of the server could leave half dead.
 * Source: RFC 5321 for the classes of replies; RFC 3834 for Auto-Submitted.
 */
import { createTransport } from 'nodemailer';
import type { Notification } from '../../shared/notification.js';
import type { Outcome, Refusal } from './settle-delivery.js';

/** Secrets in the clear: they live in memory only. */
export interface MailServer {
  readonly host: string;
  readonly port: number;
  /** `tls`: from the first byte; `starttls`: nothing is said before TLS; `none`: in the clear */
  readonly security: 'starttls' | 'tls' | 'none';
  /** null: no login */
  readonly login: { readonly user: string; readonly password: string } | null;
  readonly from: string;
  /** certificate authorities in PEM besides those of the system; null: those of the system alone */
  readonly authorities: string | null;
  /** for each phase: name look-up, connection, greeting, silence in between */
  readonly timeoutMs: number;
}

/** Phases that one after the other may each take as long as they are allowed. */
const PHASES = 4;

/** Never rejects. `signal`: give it up. */
export async function sendMail(
  server: MailServer,
  message: Notification,
  recipients: readonly string[],
  signal: AbortSignal,
): Promise<Outcome> {
  const deadline = AbortSignal.timeout(PHASES * server.timeoutMs);
  try {
    const info = await createTransport(transportOf(server)).sendMail({
      ...letterOf(message, server.from),
      to: [...recipients],
      signal: AbortSignal.any([deadline, signal]),
    });
    const errors = (info.rejectedErrors ?? []) as readonly Rejection[];
    return { kind: 'delivered', ...sortRejections(errors) };
  } catch (error) {
    return judge(error, deadline.aborted ? `not done within ${PHASES * server.timeoutMs} ms` : null);
  }
}

function transportOf({ host, port, security, login, authorities, timeoutMs }: MailServer) {
  return {
    ...{ host, port, pool: false as const },
    ...{ secure: security === 'tls', requireTLS: security === 'starttls', ignoreTLS: security === 'none' },
    ...(login === null ? {} : { auth: { user: login.user, pass: login.password } }),
    tls: { minVersion: 'TLSv1.2' as const, ...(authorities === null ? {} : { ca: authorities }) },
    ...{ dnsTimeout: timeoutMs, connectionTimeout: timeoutMs, greetingTimeout: timeoutMs },
    ...{ socketTimeout: timeoutMs, allowInternalNetworkInterfaces: true },
  };
}

/** Text only. The name of the message is made of its id, so that it stays the same in each attempt. */
function letterOf(message: Notification, from: string) {
  const isUrgent = message.alarms.some(
    ({ priority, change }) => priority === 'high' && change !== 'returned',
  );
  return {
    ...{ from, subject: message.subject, text: message.text, date: new Date(message.at) },
    messageId: `<${message.id}.${message.site}@${from.slice(from.indexOf('@') + 1)}>`,
    headers: { 'Auto-Submitted': 'auto-generated', 'X-Tallypost-Route': message.route },
    ...(isUrgent ? { priority: 'high' as const } : {}),
    ...{ disableFileAccess: true, disableUrlAccess: true },
  };
}

/** As nodemailer tells of one recipient, or of the whole attempt. */
interface Rejection {
  readonly recipient?: string;
  readonly responseCode?: number;
  readonly response?: string;
  readonly message: string;
}

function isForGood({ responseCode }: Rejection): boolean {
  return responseCode !== undefined && responseCode >= 500;
}

function sortRejections(errors: readonly Rejection[]): { refused: Refusal[]; later: string[] } {
  const reason = ({ response, message }: Rejection): string => response ?? message;
  return {
    refused: errors.filter(isForGood).map((error) => ({ to: error.recipient ?? '', reason: reason(error) })),
    later: errors.filter((error) => !isForGood(error)).flatMap(({ recipient }) => recipient ?? []),
  };
}

/**
 * Refused for good are recipients and contents, with a reply of 5xx. A login or a sender that is refused is a fault of the
 * configuration: it can be mended, and the messages wait for that.
 */
function judge(error: unknown, deadline: string | null): Outcome {
  const fault = error as Rejection & {
    code?: string;
    command?: string;
    rejectedErrors?: readonly Rejection[];
  };
  const reason = deadline ?? fault.response ?? fault.message;
  const rejections = fault.rejectedErrors ?? [];
  if (rejections.length > 0) {
    const { refused, later } = sortRejections(rejections);
    if (later.length === 0) return { kind: 'never', reason, refused };
    return { kind: 'later', scope: 'message', reason, retryAfterMs: null };
  }
  const isOfContent = fault.code === 'EMESSAGE' || fault.command === 'DATA';
  if (isOfContent && isForGood(fault)) return { kind: 'never', reason, refused: [] };
  const scope = isOfContent ? 'message' : 'channel';
  return { kind: 'later', scope, reason: nameFault(fault.code, reason), retryAfterMs: null };
}

function nameFault(code: string | undefined, reason: string): string {
  return code === undefined || reason.includes(code) ? reason : `${code}: ${reason}`;
}
