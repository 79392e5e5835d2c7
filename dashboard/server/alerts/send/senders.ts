import { randomUUID } from 'node:crypto';
import type { AlertPoint } from '../../../../collector/index.ts';
import { alertTopic } from '../../../../firmware-protocol/index.ts';
import type { AlertMessage, AlertRecipientRequest } from '../../../contract/alerts.ts';
import { Refusal } from '../../errors.ts';
import type { WaitingMessage } from '../../records/alert-outbox.ts';
import type { RecipientRecord } from '../../records/alert-recipients.ts';
import type { RecordStore } from '../../records/record-store.ts';
import { messageOf, outsideView } from '../view.ts';
import { createMailer, type MailSettings } from './mail.ts';
import { postWebhook, type WebhookOptions, webhookMistake } from './webhook.ts';

export interface SenderDeps {
  records: RecordStore;
  site: string;
  webhooks: WebhookOptions;
  /** Null: no mail server is set up. */
  mail: MailSettings | null;
  /** Publishes at the station's broker; rejects while it is away. */
  publish(topic: string, payload: string, retain: boolean): Promise<void>;
  /** Absent where readings go to no shared database. */
  writePoints?: ((points: AlertPoint[]) => Promise<void>) | undefined;
  now(): number;
}

/** The ways out. Each sends one message and rejects with a reason that a person can do something with. */
export interface AlertSenders {
  readonly canMail: boolean;
  /** Throws `WEBHOOK_REFUSED` and `MAIL_NOT_SET_UP`. */
  check(request: AlertRecipientRequest): void;
  send(message: WaitingMessage): Promise<void>;
  /** Sends a test at once. Throws as `check` does, else the reason why it did not get through. */
  test(recipient: RecipientRecord): Promise<void>;
  /** Publishes all open alerts again, for a broker that has forgotten them. */
  publishOpen(): Promise<void>;
  close(): void;
}

export function createAlertSenders(deps: SenderDeps): AlertSenders {
  const { records, site, webhooks, publish, writePoints, now } = deps;
  const mailer = deps.mail === null ? null : createMailer(deps.mail);

  function check(request: AlertRecipientRequest): void {
    if (request.kind === 'email') {
      if (mailer === null) throw new Refusal('MAIL_NOT_SET_UP');
      return;
    }
    const mistake = webhookMistake(request.url, webhooks);
    if (mistake !== null)
      throw new Refusal('WEBHOOK_REFUSED', {
        field: 'url',
        message: `Alerts are not sent there: ${mistake}.`,
      });
  }

  async function toRecipient(recipient: RecipientRecord, message: AlertMessage, body: string) {
    const { kind, target, secret } = recipient;
    if (kind === 'webhook') {
      const { messageId } = message;
      await postWebhook({ url: target, secret: secret ?? '', messageId }, body, now(), webhooks);
    } else {
      if (mailer === null) throw new Refusal('MAIL_NOT_SET_UP');
      await mailer.send(target, message);
    }
  }

  async function toBroker({ alertId, event, body }: WaitingMessage): Promise<void> {
    const topic = alertTopic(site, alertId ?? 0);
    const isOver = event === 'cleared' || event === 'removed';
    if (body !== '') await publish(topic, body, !isOver);
    // An empty payload takes the kept one away.
    if (isOver) await publish(topic, '', true);
  }

  return {
    canMail: mailer !== null,
    check,
    async send(waiting) {
      const { channel, recipientId, body } = waiting;
      if (channel === 'mqtt') return toBroker(waiting);
      const message = JSON.parse(body) as AlertMessage;
      if (channel === 'points') return writePoints?.(pointOf(message));
      return toRecipient(records.alertRecipients.recipient(recipientId ?? 0), message, body);
    },
    async test(recipient) {
      check(
        recipient.kind === 'email'
          ? { kind: 'email', address: recipient.target }
          : { kind: 'webhook', url: recipient.target },
      );
      const message = messageOf(site, randomUUID(), 'test', now(), null);
      await toRecipient(recipient, message, JSON.stringify(message));
    },
    async publishOpen() {
      for (const alert of records.alerts.list({ state: 'open', limit: Number.MAX_SAFE_INTEGER })) {
        const event = alert.acknowledgedMs === null ? 'raised' : 'acknowledged';
        const message = messageOf(site, randomUUID(), event, now(), outsideView(records, alert));
        await publish(alertTopic(site, alert.id), JSON.stringify(message), true);
      }
    },
    close: () => mailer?.close(),
  };
}

function pointOf({ atMs, event, alert }: AlertMessage): AlertPoint[] {
  if (alert === null) return [];
  const { id: alertId, about, assetId, locationId, title, value, limit, unit, falseAlarmsPerYear } = alert;
  const isOpen = event !== 'cleared';
  const { sinceMs } = alert;
  const isAcknowledged = event === 'acknowledged';
  return [
    {
      atMs,
      sinceMs,
      isAcknowledged,
      alertId,
      isOpen,
      about,
      assetId,
      locationId,
      title,
      value,
      limit,
      unit,
      falseAlarmsPerYear,
    },
  ];
}
