import { createTransport } from 'nodemailer';
import type { AlertMessage } from '../../../contract/alerts.ts';

/** The mail server that the station sends with. */
export interface MailSettings {
  /** `smtp://host:587` (encrypted with STARTTLS) or `smtps://host:465`. */
  url: string;
  from: string;
  username?: string;
  password?: string;
}

export interface Mailer {
  /** Settles when the mail server has taken the message. */
  send(to: string, message: AlertMessage): Promise<void>;
  close(): void;
}

const TIMEOUT_MS = 20_000;

export function createMailer({ url, from, username, password }: MailSettings): Mailer {
  const { hostname, port, protocol } = new URL(url);
  const secure = protocol === 'smtps:';
  const host = hostname.replace(/^\[|\]$/g, '');
  const isThisMachine = /^(localhost|127\.\d+\.\d+\.\d+|::1)$/.test(host);
  const transport = createTransport({
    host,
    port: port === '' ? (secure ? 465 : 587) : Number(port),
    secure,
    // A mail in the clear could be read and changed on its way, and the password taken.
    requireTLS: !secure && !isThisMachine,
    ...(username === undefined ? {} : { auth: { user: username, pass: password ?? '' } }),
    connectionTimeout: TIMEOUT_MS,
    greetingTimeout: TIMEOUT_MS,
    socketTimeout: TIMEOUT_MS,
    disableFileAccess: true,
    disableUrlAccess: true,
  });
  return {
    async send(to, message) {
      await transport.sendMail({
        from,
        to: { name: '', address: to },
        subject: subjectOf(message),
        text: textOf(message),
        // The same for every try: a mail program shows one that was sent twice once.
        messageId: `<${message.messageId}@clampline.invalid>`,
        headers: { 'Auto-Submitted': 'auto-generated' },
      });
    },
    close: () => transport.close(),
  };
}

function subjectOf({ site, event, alert }: AlertMessage): string {
  if (alert === null) return `Test message of the station ${site}`;
  return `${event === 'cleared' ? 'Over: ' : ''}${alert.title} (${site})`;
}

function textOf({ site, event, atMs, alert }: AlertMessage): string {
  if (alert === null) return `This is a test. Alerts of the station ${site} will come to this address.\n`;
  const paragraphs =
    event === 'cleared'
      ? [`Over since ${timeOf(atMs)}: ${alert.title}.`, `It had been told on ${timeOf(alert.raisedMs)}.`]
      : [
          ...(alert.caution === null ? [] : [alert.caution]),
          `${alert.title}, since ${timeOf(alert.sinceMs)}.`,
          alert.meaning,
          `False alarms: ${alert.rate}`,
          'Acknowledge it on the page "Alerts" of the station.',
        ];
  return `${[...paragraphs, `Station ${site}, alert ${alert.id}. It advises; it does not replace an inspection.`].join('\n\n')}\n`;
}

/** By the station's own calendar. */
function timeOf(atMs: number): string {
  const at = new Date(atMs);
  const two = (n: number) => String(n).padStart(2, '0');
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${two(at.getHours())}:${two(at.getMinutes())}`;
}
