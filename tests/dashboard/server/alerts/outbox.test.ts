import { describe, expect, it, onTestFinished } from 'vitest';
import { createAlertCourier } from '../../../../dashboard/server/alerts/send/courier.ts';
import type { AlertSenders } from '../../../../dashboard/server/alerts/send/senders.ts';
import type { WaitingMessage } from '../../../../dashboard/server/records/alert-outbox.ts';
import { clock, records } from '../support.ts';
import { tempDir } from '../temp-dir.ts';
import { BY_HAND_MS, silent } from './support.ts';

const HOUR_MS = 3_600_000;
type Event = WaitingMessage['event'];

/** A courier on a real records file, whose ways out fail as told; rounds are made by hand. */
function post(options: { folder?: string } = {}) {
  const time = clock();
  const store = records({ now: time.now, ...options });
  const tried: string[] = [];
  const sent: string[] = [];
  let failing: (message: WaitingMessage) => boolean = () => false;
  const connections = { count: 0 };
  let published = 0;
  const senders: AlertSenders = {
    canMail: true,
    check() {},
    async test() {},
    async publishOpen() {
      published += 1;
    },
    async send(message) {
      const name = `${message.channel} ${message.alertId} ${message.event}`;
      tried.push(name);
      if (failing(message)) throw new Error('the other side answered 503');
      sent.push(name);
    },
    close() {},
  };
  const courier = createAlertCourier({
    outbox: store.alertOutbox,
    senders,
    connections: () => connections.count,
    log: silent,
    now: time.now,
    tickMs: BY_HAND_MS,
  });
  onTestFinished(() => courier.close());
  const recipient = store.alertRecipients.add(
    { kind: 'webhook', url: `https://example.org/${store.alertRecipients.list().length}` },
    'Kim',
    time.now(),
  );
  return {
    store,
    time,
    courier,
    tried,
    sent,
    connections,
    recipient,
    published: () => published,
    fail(when: typeof failing) {
      failing = when;
    },
    add(alertId: number, event: Event, channel: WaitingMessage['channel'] = 'webhook') {
      const recipientId = channel === 'webhook' ? recipient.id : null;
      store.alertOutbox.add({ alertId, event, channel, recipientId, body: '{}', createdMs: time.now() });
    },
  };
}

describe('what is to be sent', () => {
  it('is tried again later and later, and sent once when the other side is back', async () => {
    const { courier, add, fail, sent, tried, time, store, recipient } = post();
    fail(() => true);
    add(1, 'raised');
    const tries: number[] = [];
    for (let minute = 0; minute < 24 * 60; minute++) {
      const before = tried.length;
      await courier.round();
      if (tried.length > before) tries.push(minute);
      time.advance(60_000);
    }
    // Fifteen seconds, doubled each time up to an hour: a score and some in the first day.
    expect(tries[0]).toBe(0);
    expect(tries.length).toBeGreaterThan(20);
    expect(tries.length).toBeLessThan(60);
    expect(tries.at(-1)! - tries.at(-2)!).toBeLessThanOrEqual(61);
    expect(store.alertOutbox.standing(recipient.id)).toMatchObject({
      waiting: 1,
      problem: 'the other side answered 503',
    });
    fail(() => false);
    time.advance(HOUR_MS);
    await courier.round();
    await courier.round();
    expect(sent).toEqual(['webhook 1 raised']);
    expect(store.alertOutbox.standing(recipient.id)).toMatchObject({
      waiting: 0,
      lastSentMs: time.now(),
      problem: null,
    });
  });

  it('is given up after three days, and said to be', async () => {
    const { courier, add, fail, time, store, recipient, tried } = post();
    fail(() => true);
    add(1, 'raised');
    for (let hour = 0; hour < 80; hour++) {
      await courier.round();
      time.advance(HOUR_MS + 60_000);
    }
    const before = tried.length;
    await courier.round();
    expect(tried.length).toBe(before);
    expect(store.alertOutbox.standing(recipient.id)).toMatchObject({
      waiting: 0,
      lastSentMs: null,
      problem: 'the other side answered 503',
    });
  });

  it('keeps its order for one alert, and one alert in the way stops no other', async () => {
    const { courier, add, fail, time, sent } = post();
    fail(({ alertId }) => alertId === 1);
    add(1, 'raised');
    add(1, 'cleared');
    add(2, 'raised');
    add(1, 'raised', 'email');
    await courier.round();
    expect(sent).toEqual(['webhook 2 raised']);
    fail(() => false);
    time.advance(HOUR_MS);
    await courier.round();
    expect(sent.slice(1)).toEqual(['webhook 1 raised', 'email 1 raised']);
    await courier.round();
    expect(sent.slice(3)).toEqual(['webhook 1 cleared']);
  });

  it('outlasts the station', async () => {
    const folder = tempDir();
    const one = post({ folder });
    one.add(7, 'raised');
    one.fail(() => true);
    await one.courier.round();
    await one.courier.close();
    one.store.close();
    const two = post({ folder });
    two.time.advance(HOUR_MS);
    await two.courier.round();
    expect(two.sent).toEqual(['webhook 7 raised']);
  });

  it('goes with its recipient', async () => {
    const { courier, add, store, recipient, tried } = post();
    add(1, 'raised');
    store.alertRecipients.remove(recipient.id);
    await courier.round();
    expect(tried).toEqual([]);
    expect(store.alertOutbox.waiting()).toBe(0);
  });

  it('by MQTT goes out at once when the broker is found again, with all that is open', async () => {
    const { courier, add, fail, time, sent, connections, published } = post();
    fail(({ channel }) => channel === 'mqtt');
    add(1, 'raised', 'mqtt');
    await courier.round();
    expect(published()).toBe(0);
    fail(() => false);
    time.advance(1_000);
    await courier.round();
    expect(sent).toEqual([]);
    connections.count = 1;
    await courier.round();
    expect(published()).toBe(1);
    expect(sent).toEqual(['mqtt 1 raised']);
    await courier.round();
    expect(published()).toBe(1);
  });
});
