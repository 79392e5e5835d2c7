/**
 * A station in a process of its own that raises and clears alerts as fast as it can, to be killed. Arguments: records
 * file and address of a webhook. Prints `ready`.
 */
import { queueMessages } from '../../../../dashboard/server/alerts/queue.ts';
import { createAlertCourier } from '../../../../dashboard/server/alerts/send/courier.ts';
import { createAlertSenders } from '../../../../dashboard/server/alerts/send/senders.ts';
import { openRecordStore } from '../../../../dashboard/server/records/record-store.ts';

const [file, url] = process.argv.slice(2) as [string, string];
const records = openRecordStore(file);
const { alerts, alertRecipients, alertOutbox } = records;
if (alertRecipients.list().length === 0)
  alertRecipients.add({ kind: 'webhook', url, secret: 'a secret of sixteen or more' }, 'Kim', 0);
const now = Date.now;
queueMessages(records, { site: 'depot', hasPoints: false, now });
const senders = createAlertSenders({
  records,
  site: 'depot',
  webhooks: { allowOwnNetwork: true },
  mail: null,
  publish: async () => {},
  now,
});
const log = { info() {}, warn: console.error, error: console.error };
createAlertCourier({ outbox: alertOutbox, senders, connections: () => 0, log, now, tickMs: 5 });

/** As looks are followed: what has come so far, and what it led to, are kept together. */
function step(): void {
  const seen = alerts.state<number>('seen') ?? 0;
  const cause = {
    key: 'look/outer',
    about: 'finding' as const,
    assetId: null,
    locationId: null,
    nodeId: null,
    quantity: null,
    detail: 'outer race',
    value: 100,
    limit: null,
    unit: 'Hz',
    falseAlarmsPerYear: 0.01,
    sinceMs: seen,
    seenMs: seen,
  };
  alerts.together(() => {
    alerts.putState('seen', seen + 1);
    alerts.settle('look/', seen % 2 === 0 ? [cause] : [], now(), 'normal-again');
  });
  setTimeout(step, 2);
}
console.log('ready');
step();
