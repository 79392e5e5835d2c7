import { Type } from 'typebox';
import { alertTopic } from '../../../firmware-protocol/index.ts';
import {
  AcknowledgeRequest,
  Alert,
  AlertAccount,
  AlertRecipient,
  AlertRecipientRequest,
  AlertSettings,
  AlertsQuery,
} from '../../contract/alerts.ts';
import { alertView } from '../alerts/view.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { closed, Done, IdParams } from '../http/schemas.ts';
import type { RecipientRecord } from '../records/alert-recipients.ts';

const PAGE = 200;
const shop = { config: { access: 'shop' as const } };

export function alertRoutes(app: App, { records, config, alertSenders, now }: Context): void {
  const { alerts, alertRecipients, alertOutbox } = records;

  app.get(
    '/alerts',
    { schema: { querystring: closed(AlertsQuery), response: { 200: Type.Array(Alert) } } },
    ({ query: { state = 'open', ...query } }) =>
      alerts.list({ ...query, state, limit: PAGE }).map((alert) => alertView(records, alert)),
  );

  app.post(
    '/alerts/:id/acknowledge',
    { schema: { params: IdParams, body: closed(AcknowledgeRequest), response: { 200: Alert } } },
    ({ params: { id }, body: { note }, session }) =>
      alertView(records, alerts.acknowledge(id, session?.person.name ?? '', note, now())),
  );

  app.get('/alert-settings', { schema: { response: { 200: AlertSettings } } }, () =>
    alertRecipients.settings(),
  );

  app.put(
    '/alert-settings',
    { schema: { body: closed(AlertSettings), response: { 200: AlertSettings } }, ...shop },
    ({ body }) => alertRecipients.putSettings(body),
  );

  const view = ({ secret: _, ...recipient }: RecipientRecord): AlertRecipient => ({
    ...recipient,
    ...alertOutbox.standing(recipient.id),
  });

  app.get('/alert-recipients', { schema: { response: { 200: Type.Array(AlertRecipient) } }, ...shop }, () =>
    alertRecipients.list().map(view),
  );

  app.post(
    '/alert-recipients',
    { schema: { body: AlertRecipientRequest, response: { 200: AlertRecipient } }, ...shop },
    async ({ body, session }) => {
      await alertSenders.check(body);
      const added = alertRecipients.add(body, session?.person.name ?? '', now());
      return { ...view(added), ...(added.secret === null ? {} : { secret: added.secret }) };
    },
  );

  app.delete(
    '/alert-recipients/:id',
    { schema: { params: IdParams, response: { 200: Done } }, ...shop },
    ({ params: { id } }) => {
      alertRecipients.remove(id);
      return { done: true as const };
    },
  );

  app.post(
    '/alert-recipients/:id/test',
    { schema: { params: IdParams, response: { 200: Done } }, ...shop },
    async ({ params: { id } }) => {
      try {
        await alertSenders.test(alertRecipients.recipient(id));
      } catch (cause) {
        if (cause instanceof Refusal || (cause as { name?: string }).name === 'RecordError') throw cause;
        throw new Refusal('MESSAGE_NOT_SENT', { message: (cause as Error).message, cause });
      }
      return { done: true as const };
    },
  );

  app.get('/alert-account', { schema: { response: { 200: AlertAccount } }, ...shop }, () => ({
    username: 'alerts',
    password: config.alertsPassword ?? null,
    topic: alertTopic(config.site, '+'),
    canMail: alertSenders.canMail,
  }));
}
