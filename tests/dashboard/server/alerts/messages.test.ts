import { describe, expect, it } from 'vitest';
import type { AlertMessage } from '../../../../dashboard/contract/alerts.ts';
import { queueMessages } from '../../../../dashboard/server/alerts/queue.ts';
import { records } from '../support.ts';

/** What is put down to be sent when an alert is raised, acknowledged and cleared. */
function sent(namesInMessages: boolean) {
  const store = records();
  const { alerts, alertOutbox, alertRecipients, assets, nodes } = store;
  nodes.add('00000000000000a1', 'Board of KB 123 X');
  const asset = assets.add({ name: 'Bus KB 123 X', kind: 'vehicle', machineClass: 'II' });
  const place = assets.addLocation(asset.id, { name: 'Wheel bearing of Miller', component: 'Rear axle' });
  alertRecipients.add({ kind: 'webhook', url: 'https://example.org/' }, 'Kim', 0);
  alertRecipients.putSettings({ ...alertRecipients.settings(), namesInMessages });
  queueMessages(store, { site: 'depot', hasPoints: true, now: () => 5 });
  const cause = {
    key: 'trend/1/change',
    about: 'change' as const,
    assetId: asset.id,
    locationId: place.id,
    nodeId: null,
    quantity: 'velocityRmsMmPerS' as const,
    detail: '',
    value: 1.5,
    limit: 1.3,
    unit: 'ratio',
    falseAlarmsPerYear: 0.1,
    sinceMs: 1,
    seenMs: 2,
  };
  alerts.settle('trend/1/', [cause], 3, 'normal-again');
  alerts.acknowledge(1, 'Kim', 'Miller was called', 4);
  alerts.settle('trend/1/', [], 5, 'normal-again');
  const all: { channel: string; event: string; body: string }[] = [];
  for (let due = alertOutbox.due(10, 100); due.length > 0; due = alertOutbox.due(10, 100)) {
    for (const message of due) {
      all.push(message);
      alertOutbox.sent(message.id, 10);
    }
  }
  return all;
}

describe('messages of an alert', () => {
  it('go to each according to what it is: programs hear all of it, people of its begin and end', () => {
    const byChannel = (channel: string) =>
      sent(true)
        .filter((message) => message.channel === channel)
        .map(({ event }) => event);
    expect(byChannel('webhook')).toEqual(['raised', 'cleared']);
    expect(byChannel('mqtt')).toEqual(['raised', 'acknowledged', 'cleared']);
    expect(byChannel('points')).toEqual(['raised', 'acknowledged', 'cleared']);
  });

  it('hold names, or numbers where the shop wants that, and never people or notes', () => {
    const named = sent(true).map(({ body }) => body);
    expect(named[0]).toContain('Bus KB 123 X, Wheel bearing of Miller: velocity RMS');
    expect(named.join('')).not.toMatch(/Kim|was called/);
    const numbered = sent(false).map(({ body }) => JSON.parse(body) as AlertMessage);
    expect(numbered[0]!.alert).toMatchObject({
      title: 'Asset 1, location 1: velocity RMS has risen to 1.50 times its baseline',
      assetName: 'Asset 1',
      location: 'location 1',
      component: null,
      // What must not wait is said all the same.
      caution: expect.stringMatching(/^Do not put this off/),
    });
    expect(JSON.stringify(numbered)).not.toMatch(/KB 123|Miller|Kim|Rear axle/);
  });
});
