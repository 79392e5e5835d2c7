import { randomUUID } from 'node:crypto';
import type { AlertMessage } from '../../contract/alerts.ts';
import type { RecordStore } from '../records/record-store.ts';
import { messageOf, outsideView } from './view.ts';

/** From now on whatever happens to an alert is put down to be sent, in the transaction in which it happens. */
export function queueMessages(
  records: RecordStore,
  { site, hasPoints, now }: { site: string; hasPoints: boolean; now(): number },
): void {
  const { alerts, alertOutbox: outbox, alertRecipients } = records;
  alerts.onEvent((event, alert) => {
    const atMs = now();
    const message = messageOf(site, randomUUID(), event, atMs, outsideView(records, alert));
    const add = (channel: 'mqtt' | 'points' | 'email' | 'webhook', recipientId: number | null) =>
      outbox.add({
        alertId: alert.id,
        event,
        channel,
        recipientId,
        body: JSON.stringify(message satisfies AlertMessage),
        createdMs: atMs,
      });
    add('mqtt', null);
    if (hasPoints) add('points', null);
    // Whoever was told need not be told that somebody has seen it.
    if (event === 'acknowledged') return;
    for (const { id, kind } of alertRecipients.list()) add(kind, id);
  });
}
