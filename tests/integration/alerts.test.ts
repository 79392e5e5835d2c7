import { createHmac } from 'node:crypto';
import { createServer, type IncomingHttpHeaders } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import mqtt from 'mqtt';
import { describe, expect, it, onTestFinished, vi } from 'vitest';
import { createBroker, openJournalWriter } from '../../broker/index.ts';
import { zoneOf } from '../../collector/index.ts';
import type { Alert, AlertMessage } from '../../dashboard/contract/alerts.ts';
import {
  createDashboard,
  type Dashboard,
  openNodeCredentials,
  openRecordStore,
} from '../../dashboard/server/index.ts';
import { mailServer } from '../dashboard/server/alerts/mail-server.ts';
import { storedReadings } from '../dashboard/server/stored-readings.ts';
import { CHEAP, HEALTHY, NODE_B } from '../dashboard/server/support.ts';
import { tempDir } from '../dashboard/server/temp-dir.ts';
import { addPastRuns, busWithSensor, scatter, workOut } from '../dashboard/server/weeks/past-runs.ts';

const SITE = 'depot';
const KEYS = { collector: 'collector key', dashboard: 'dashboard key', alerts: 'alerts key' };
const PERSON = { name: 'Kim Nobody', password: 'a quiet gearbox' };
const LONG = { timeout: 60_000, interval: 100 };
const silent = { info() {}, warn() {}, error() {} };

async function webhookReceiver() {
  const got: { headers: IncomingHttpHeaders; body: string }[] = [];
  let isDown = true;
  const server = createServer((request, response) => {
    let body = '';
    request.setEncoding('utf8').on('data', (part) => {
      body += part;
    });
    request.on('end', () => {
      if (!isDown) got.push({ headers: request.headers, body });
      response.writeHead(isDown ? 503 : 200).end();
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  onTestFinished(() => void server.close());
  const come = () => {
    isDown = false;
  };
  return { got, come, url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/alerts` };
}

/** Broker with its journal and real rights, records, readings and the dashboard server; only the collector is played. */
async function station() {
  const folder = tempDir();
  const recordsFile = join(folder, 'records.sqlite');
  const store = openRecordStore(recordsFile, { passwordCost: CHEAP });
  await store.people.create(PERSON.name, PERSON.password, 'shop');
  const readings = await storedReadings();
  const journal = await openJournalWriter(join(folder, 'journal'), silent);
  const credentials = openNodeCredentials(recordsFile, KEYS);
  const broker = await createBroker({ site: SITE, port: 0 }, { credentials, journal, log: silent });
  const mqttUrl = `mqtt://127.0.0.1:${broker.port}`;
  const mail = await mailServer();
  let dashboard: Dashboard | null = null;
  async function startDashboard(): Promise<Dashboard> {
    dashboard = await createDashboard(
      {
        port: 0,
        webRoot: tempDir(),
        site: SITE,
        alertsPassword: KEYS.alerts,
        alerts: {
          webhooks: { allowOwnNetwork: true },
          mail: { url: mail.url, from: 'station@depot.example' },
        },
        mqtt: { url: mqttUrl, username: 'dashboard', password: KEYS.dashboard },
      },
      { records: store, readings: readings.reader, zoneOf, health: () => HEALTHY, log: silent },
    );
    return dashboard;
  }
  onTestFinished(async () => {
    await dashboard?.close();
    await broker.close();
    await journal.close();
    credentials.close();
    store.close();
  });
  return { store, readings, time: { now: Date.now, advance() {} }, mail, mqttUrl, startDashboard };
}

/** Calls the REST interface as a person who has logged in. */
async function loggedIn({ url }: Dashboard) {
  const send = (cookie: string) => async (method: string, path: string, body?: unknown) => {
    const response = await fetch(`${url}${path}`, {
      method,
      headers: { origin: url, cookie, ...(body === undefined ? {} : { 'content-type': 'application/json' }) },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    });
    // biome-ignore lint/suspicious/noExplicitAny: tests look into answers whose shape they are about to check
    return { status: response.status, json: (await response.json()) as any, headers: response.headers };
  };
  const { headers } = await send('')('POST', '/api/login', PERSON);
  return send(headers.getSetCookie()[0]!.split(';')[0]!);
}

/** A program that is to be told: every message, and what a newcomer would find kept. */
async function listener(url: string, account: { username: string; password: string; topic: string }) {
  const got: { retain: boolean; text: string }[] = [];
  const client = await mqtt.connectAsync(url, { ...account, reconnectPeriod: 0, protocolVersion: 4 });
  client.on('message', (_topic, payload, { retain }) => void got.push({ retain, text: String(payload) }));
  onTestFinished(() => void client.end(true));
  await client.subscribeAsync(account.topic, { qos: 1 });
  return { got, client };
}

describe('an alert, from wear to everybody who is to be told', () => {
  it('is raised once, sent by MQTT, mail and a webhook that was away, acknowledged, and over after a repair', {
    timeout: 180_000,
  }, async () => {
    const test = await station();
    const { store } = test;
    const webhook = await webhookReceiver();
    const first = await test.startDashboard();
    const call = await loggedIn(first);
    const added = await call('POST', '/api/alert-recipients', { kind: 'webhook', url: webhook.url });
    await call('POST', '/api/alert-recipients', { kind: 'email', address: 'shop@example.org' });
    const { json: account } = await call('GET', '/api/alert-account');
    expect(account).toMatchObject({ username: 'alerts', canMail: true });
    const program = await listener(test.mqttUrl, account);

    // Twenty weeks at two speeds: one bus wears, its sister does not; the faster runs come later.
    const runs = (growth: (day: number) => number) =>
      Array.from({ length: 60 }, (_, k) => {
        const day = Math.floor((k * 7) / 3);
        const isFast = k % 5 === 0 || (k > 30 && k % 5 !== 1);
        const velocityRmsMmPerS = (isFast ? 1.6 : 1) * growth(day) * scatter(k);
        return { day, speedKmH: isFast ? 74 : 54, velocityRmsMmPerS };
      });
    const worn = busWithSensor(test, 'Bus 2');
    const sister = busWithSensor(test, 'Bus 3', NODE_B);
    await addPastRuns(
      test,
      worn.asset.id,
      runs((day) => (day < 60 ? 1 : 1 + ((day - 60) / 80) ** 2)),
    );
    await addPastRuns(
      test,
      sister.asset.id,
      runs(() => 1),
      NODE_B,
    );
    await workOut(test);

    await vi.waitFor(() => expect(test.mail.mails).toHaveLength(1), LONG);
    await vi.waitFor(() => expect(program.got).toHaveLength(1), LONG);
    const told = JSON.parse(program.got[0]!.text) as AlertMessage;
    expect(told).toMatchObject({ site: SITE, event: 'raised' });
    expect(told.alert).toMatchObject({ about: 'change', assetName: 'Bus 2', location: 'Output bearing' });
    expect(told.alert!.rate).toMatch(
      /^About once in \d+ years from a machine on which nothing has changed\.$/,
    );
    expect(test.mail.mails[0]!.text).toMatch(/^Subject: Bus 2, Output bearing: velocity RMS has risen/m);
    expect((await call('GET', '/api/alerts')).json).toHaveLength(1);

    // The webhook was away; the station stops, and what is still to be sent goes out after the next start.
    expect(webhook.got).toEqual([]);
    await first.close();
    webhook.come();
    store.alertOutbox.hurry('webhook');
    const second = await test.startDashboard();
    const again = await loggedIn(second);
    await vi.waitFor(() => expect(webhook.got).toHaveLength(1), LONG);
    const { headers, body } = webhook.got[0]!;
    const signed = createHmac('sha256', added.json.secret).update(`${headers['clampline-time']}.${body}`);
    expect(headers['clampline-signature']).toBe(`sha256=${signed.digest('hex')}`);
    expect((JSON.parse(body) as AlertMessage).alert).toEqual(told.alert);
    expect(test.mail.mails).toHaveLength(1);

    const { id } = told.alert!;
    const note = { note: 'Plate KB 123 X, owner called' };
    const { json: acknowledged } = await again('POST', `/api/alerts/${id}/acknowledge`, note);
    expect((acknowledged as Alert).acknowledged).toMatchObject({ by: PERSON.name, ...note });
    await vi.waitFor(async () => {
      const newcomer = await listener(test.mqttUrl, account);
      await vi.waitFor(() => expect(newcomer.got).toHaveLength(1), { timeout: 1_000 });
      expect(JSON.parse(newcomer.got[0]!.text)).toMatchObject({ event: 'acknowledged', alert: { id } });
      expect(newcomer.got[0]!.retain).toBe(true);
    }, LONG);

    store.assetEvents.add(worn.asset.id, { kind: 'repair', note: 'bearing replaced' }, PERSON.name);
    await vi.waitFor(() => expect(test.mail.mails).toHaveLength(2), LONG);
    await vi.waitFor(() => expect(webhook.got).toHaveLength(2), LONG);
    expect(test.mail.mails[1]!.text).toMatch(/^Subject: Over: Bus 2/m);
    await vi.waitFor(() => expect(program.got.at(-1)!.text).toBe(''), LONG);
    const late = await listener(test.mqttUrl, account);
    const { json: all } = await again('GET', '/api/alerts?state=all');
    expect(all).toEqual([expect.objectContaining({ id, clearedWhy: 'no-longer-compared' })]);
    expect(late.got).toEqual([]);

    // What stays in the station: people, notes, plates.
    const everything = [
      ...program.got.map(({ text }) => text),
      ...webhook.got.map((message) => message.body),
      ...test.mail.mails.map(({ text }) => text),
    ].join('\n');
    expect(everything).not.toMatch(/Kim|KB 123|owner called|bearing replaced/);
    // The account may listen and nothing else.
    await expect(late.client.subscribeAsync(`clampline/${SITE}/reading/+/+`)).rejects.toThrow();
  });
});
