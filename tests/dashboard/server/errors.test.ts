import { once } from 'node:events';
import { mkdirSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { Value } from 'typebox/value';
import { describe, expect, it, onTestFinished, vi } from 'vitest';
import WebSocket from 'ws';
import { openFleetReader } from '../../../collector/index.ts';
import { ApiError } from '../../../dashboard/contract/model.ts';
import { ERRORS, type ErrorCode } from '../../../dashboard/server/errors.ts';
import type { RecordStore } from '../../../dashboard/server/index.ts';
import { damagedReadings } from './stored-readings.ts';
import { NODE_A, PASSWORD, records, testApp } from './support.ts';
import { tempDir } from './temp-dir.ts';

async function shop(options: Parameters<typeof testApp>[0] = {}) {
  const test = await testApp(options);
  const { cookie } = await test.as('shop');
  const { store } = test;
  return {
    ...test,
    cookie,
    send: (method: Parameters<typeof test.call>[0], url: string, body?: unknown) =>
      test.call(method, url, { cookie, body }),
    run() {
      const asset = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
      return store.runs.start({ assetId: asset.id, kind: 'road' }, 'Kim').id;
    },
    /** A location with a sensor, at the newest asset. */
    mounted() {
      const asset =
        store.assets.list().at(-1) ?? store.assets.add({ name: 'B', kind: 'vehicle', machineClass: 'I' });
      const { id } = store.assets.addLocation(asset.id, { name: 'Hub', component: 'Rear axle' });
      store.nodes.add(NODE_A, 'a');
      store.mounts.put(id, { nodeId: NODE_A, sensor: 0 });
      return id;
    },
    location() {
      const asset = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
      return store.assets.addLocation(asset.id, { name: 'Hub', component: 'Rear axle' }).id;
    },
  };
}

function mounted(store: RecordStore, locationId: number): number {
  store.nodes.add(NODE_A, 'a');
  store.mounts.put(locationId, { nodeId: NODE_A, sensor: 0 }, 0);
  return locationId;
}
/** Asks for a PDF on a station whose browser is `browser`. */
async function printing(browser: string) {
  const { send, location } = await shop();
  location();
  vi.stubEnv('CLAMPLINE_BROWSER', browser);
  onTestFinished(() => void vi.unstubAllEnvs());
  return send('GET', '/api/assets/1/report.pdf');
}
const failing = (code: string) => ({ ask: () => Promise.reject(Object.assign(new Error(code), { code })) });

type Answer = { status: number; json: ApiError };

/** A real request for each error of the table; the compiler sees to it that none is left out. */
const PROVOKE: Record<ErrorCode, () => Promise<Answer>> = {
  VALIDATION_FAILED: async () => (await shop()).send('POST', '/api/assets', {}),
  MALFORMED_JSON: async () => (await shop()).send('POST', '/api/assets', '{"name":'),
  BAD_REQUEST: async () => (await shop()).send('GET', '/api/%zz'),
  SPAN_INVALID: async () => {
    const { send, location } = await shop();
    return send('GET', `/api/locations/${location()}/trend?fromMs=2&toMs=1`);
  },
  SPAN_TOO_LONG: async () => {
    const { send, location } = await shop();
    return send('GET', `/api/locations/${location()}/readings?fromMs=0&toMs=9000000`);
  },
  SITES_NOT_SHARED: async () => (await shop()).send('GET', '/api/sites'),
  SITES_WRITE_ONLY: async () => (await shop({ deps: { fleet: 'write-only' } })).send('GET', '/api/sites'),
  SITES_UNREACHABLE: async () => {
    const nobody = { url: 'http://127.0.0.1:1', token: 't', org: 'o', bucket: 'b' };
    return (await shop({ deps: { fleet: openFleetReader(nobody) } })).send('GET', '/api/sites');
  },
  METRICS_REFUSED: async () =>
    (await testApp()).call('GET', '/metrics', { headers: { 'x-forwarded-for': '192.0.2.1' } }),
  LOGIN_NEEDED: async () => (await testApp()).call('GET', '/api/nodes'),
  LOGIN_WRONG: async () => (await shop()).send('POST', '/api/login', { name: 'a', password: 'b' }),
  ORIGIN_REFUSED: async () =>
    (await testApp()).call('POST', '/api/logout', { headers: { origin: 'http://other.example' } }),
  ROLE_NEEDED: async () => {
    const { call, as } = await testApp();
    return call('DELETE', '/api/assets/1', await as('technician'));
  },
  SETUP_TOKEN_WRONG: async () =>
    (await testApp()).call('POST', '/api/setup', { body: { token: 'x', name: 'a', password: PASSWORD } }),
  SETUP_DONE: async () =>
    (await shop()).send('POST', '/api/setup', { token: 'x', name: 'a', password: PASSWORD }),
  ROUTE_NOT_FOUND: async () => (await shop()).send('GET', '/api/weather'),
  ASSET_NOT_FOUND: async () => (await shop()).send('DELETE', '/api/assets/9'),
  LOCATION_NOT_FOUND: async () => (await shop()).send('GET', '/api/locations/9'),
  NODE_NOT_FOUND: async () => (await shop()).send('DELETE', `/api/nodes/${NODE_A}`),
  NODE_EXISTS: async () => {
    const { send, store } = await shop();
    store.nodes.add(NODE_A, 'a');
    return send('POST', '/api/nodes', { nodeId: NODE_A, label: 'b' });
  },
  RUN_NOT_FOUND: async () => (await shop()).send('GET', '/api/runs/9'),
  MARK_NOT_FOUND: async () => {
    const { send, run } = await shop();
    return send('DELETE', `/api/runs/${run()}/marks/9`);
  },
  MANOEUVRE_NOT_FOUND: async () => {
    const { send, run } = await shop();
    return send('PATCH', `/api/runs/${run()}/manoeuvres/9`, { noise: 'absent' });
  },
  PERSON_NOT_FOUND: async () => (await shop()).send('DELETE', '/api/people/999'),
  NAME_TAKEN: async () => {
    const { send, store } = await shop();
    await store.people.create('Kim', PASSWORD, 'technician');
    return send('POST', '/api/people', { name: 'kim', password: PASSWORD, role: 'shop' });
  },
  LAST_SHOP: async () => {
    const { send, store } = await shop();
    return send('DELETE', `/api/people/${store.people.list()[0]!.id}`);
  },
  PASSWORD_WRONG: async () =>
    (await shop()).send('POST', '/api/password', { current: 'guessed', password: PASSWORD }),
  ALERT_NOT_FOUND: async () => (await shop()).send('POST', '/api/alerts/7/acknowledge', { note: '' }),
  RECIPIENT_NOT_FOUND: async () => (await shop()).send('DELETE', '/api/alert-recipients/7'),
  RECIPIENT_EXISTS: async () => {
    const { send } = await shop();
    const webhook = { kind: 'webhook', url: 'https://example.org/alerts' };
    await send('POST', '/api/alert-recipients', webhook);
    return send('POST', '/api/alert-recipients', webhook);
  },
  WEBHOOK_REFUSED: async () =>
    (await shop()).send('POST', '/api/alert-recipients', { kind: 'webhook', url: 'https://192.168.0.7/x' }),
  MAIL_NOT_SET_UP: async () =>
    (await shop()).send('POST', '/api/alert-recipients', { kind: 'email', address: 'shop@example.org' }),
  MESSAGE_NOT_SENT: async () => {
    const { send, store } = await shop();
    // A name that this machine itself knows not to be public.
    const { id } = store.alertRecipients.add({ kind: 'webhook', url: 'https://localhost/x' }, 'Kim', 0);
    return send('POST', `/api/alert-recipients/${id}/test`);
  },
  EVENT_NOT_FOUND: async () => {
    const { send, store } = await shop();
    const { id } = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
    return send('DELETE', `/api/assets/${id}/events/9`);
  },
  WATCH_PLAN_NOT_FOUND: async () => (await shop()).send('POST', '/api/watch-plans/9/end', { reason: 'done' }),
  REPAIR_CHECK_NOT_FOUND: async () => (await shop()).send('POST', '/api/repair-checks/9/conclude'),
  REPAIR_CHECK_CONCLUDED: async () => {
    const { send, store, location } = await shop();
    const locationId = location();
    const { assetId } = store.assets.location(locationId);
    const value = 'velocityRmsMmPerS';
    const request = { locationId, value, leastFallDb: 6, statedBy: 'Kim', note: '' };
    const { json } = await send('POST', `/api/assets/${assetId}/repair-checks`, request);
    await send('POST', `/api/repair-checks/${json.id}/conclude`);
    return send('POST', `/api/repair-checks/${json.id}/conclude`);
  },
  STRIP_DOWN_NOT_FOUND: async () => (await shop()).send('DELETE', '/api/strip-downs/9'),
  SAFETY_ADVICE_UNANSWERED: async () => {
    const { send, store } = await shop();
    const { id } = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
    const place = store.assets.addLocation(id, { name: 'Left wheel bearing', component: 'Rear axle' });
    const none = { low: 0, middle: 0, high: 0 };
    const wait = {
      name: 'Wait',
      kind: 'watch',
      parts: none,
      labourHours: none,
      besides: none,
      breakdownChance: none,
      warranty: null,
      laterRepairChance: none,
    };
    const figures = {
      locationId: place.id,
      part: 'other',
      currency: 'EUR',
      labourPerHour: none,
      keptMonths: 12,
      usePerYearKm: 0,
      breakdownBesides: none,
      repairAfterBreakdown: none,
      laterRepair: none,
      options: [wait],
    };
    const decision = { figures, chosen: 'Wait', decidedBy: 'Owner', note: '', refusal: null };
    return send('POST', `/api/assets/${id}/decisions`, decision);
  },
  PDF_UNAVAILABLE: () => printing('/nowhere/chromium'),
  // A program that ends with an error, in the place of the browser.
  PDF_FAILED: () => printing('/bin/false'),
  OWNER_LINK_NOT_FOUND: async () => {
    const { send, store } = await shop();
    const { id } = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
    return send('DELETE', `/api/assets/${id}/owner-links/9`);
  },
  LINK_NOT_VALID: async () => (await testApp()).call('GET', '/owner/view'),
  RUN_UNDER_WAY: async () => {
    const { send, run, store } = await shop();
    const { assetId } = store.runs.run(run());
    return send('POST', '/api/runs', { assetId, kind: 'road' });
  },
  RUN_ENDED: async () => {
    const { send, run, store } = await shop();
    const { id } = store.runs.end(run());
    return send('POST', `/api/runs/${id}/manoeuvres`, { manoeuvre: 'steady-cruise' });
  },
  RECORDING_NOT_FOUND: async () => {
    const { send, store, run } = await shop({ recordingsDir: tempDir() });
    const { assetId } = store.runs.run(run());
    const channels = [{ channel: 0, locationId: 1, axis: 'x' }];
    return send('POST', '/api/runs/import', {
      recordingId: '0'.repeat(32),
      assetId,
      kind: 'bench',
      channels,
    });
  },
  RAW_SAMPLES_MISSING: async () => {
    const { send, run } = await shop();
    return send('POST', `/api/runs/${run()}/compare`, {});
  },
  CANNOT_ANSWER: async () => {
    const journalDir = join(tempDir(), 'journal');
    mkdirSync(journalDir);
    const { send, run, mounted, time } = await shop({ journalDir });
    const runId = run();
    mounted();
    time.advance(60_000);
    return send('POST', `/api/runs/${runId}/compare`, {});
  },
  // The thread that says these is tested with the station; here it is what the interface makes of them.
  ANALYSIS_TOO_LONG: async () => {
    const { send, mounted } = await shop({
      journalDir: tempDir(),
      deps: { analyst: failing('ANALYSIS_TOO_LONG') },
    });
    return send('POST', '/api/taps', { locationId: mounted(), fromMs: 1, toMs: 2 });
  },
  VEHICLE_DATA_REFUSED: async () => {
    const { send, run } = await shop();
    return send('POST', `/api/runs/${run()}/vehicle`, { samples: [{ answer: '41 0D' }] });
  },
  MOUNT_NOT_FOUND: async () => {
    const { send, location } = await shop();
    return send('POST', `/api/locations/${location()}/mount/confirm`);
  },
  GRAVITY_CHECK_NOT_FOUND: async () =>
    (await shop()).send('GET', `/api/nodes/${NODE_A}/sensors/0/gravity-check`),
  GRAVITY_CHECK_UNFINISHED: async () => {
    const { send, store } = await shop();
    store.nodes.add(NODE_A, 'a');
    await send('POST', `/api/nodes/${NODE_A}/sensors/0/gravity-check`);
    return send('POST', `/api/nodes/${NODE_A}/sensors/0/gravity-check/save`);
  },
  SHAKER_CHECK_UNUSABLE: async () => {
    const { send, store } = await shop();
    store.nodes.add(NODE_A, 'a');
    const reference = { frequencyHz: 159.2, accelerationRmsMPerS2: 10, tolerancePct: 3 };
    return send('POST', `/api/nodes/${NODE_A}/sensors/0/shaker-check`, reference);
  },
  STATION_ADDRESS_UNKNOWN: async () => (await shop()).send('GET', '/api/station'),
  STATION_NOT_EMPTY: async () => {
    const { send, location } = await shop({ deps: { startDemo: async () => undefined } });
    location();
    return send('POST', '/api/demo');
  },
  DEMO_NOT_AVAILABLE: async () => (await shop()).send('POST', '/api/demo'),
  PICTURE_NOT_FOUND: async () => (await shop()).send('GET', '/api/findings/9/picture'),
  NOTHING_MOUNTED: async () => {
    const { send, location } = await shop();
    return send('POST', `/api/locations/${location()}/findings`, {});
  },
  NO_SAMPLES: async () => {
    const { send, location, store } = await shop({
      deps: { analyse: async () => null },
      journalDir: tempDir(),
    });
    return send('POST', `/api/locations/${mounted(store, location())}/findings`, {});
  },
  ANALYSIS_UNAVAILABLE: async () => {
    const { send, location, store } = await shop();
    return send('POST', `/api/locations/${mounted(store, location())}/findings`, {});
  },
  ANALYSIS_BUSY: async () => {
    let end = (): void => undefined;
    const ended = new Promise<null>((resolve) => {
      end = () => resolve(null);
    });
    const { send, location, store } = await shop({
      deps: { analyse: () => ended },
      journalDir: tempDir(),
    });
    const url = `/api/locations/${mounted(store, location())}/findings`;
    const asked = Array.from({ length: 9 }, () => send('POST', url, {}));
    const refused = await Promise.race(asked);
    end();
    await Promise.all(asked);
    return refused;
  },
  TOO_MANY_RECORDS: async () => {
    const { send, store, location } = await shop();
    const { assetId } = store.assets.location(location());
    for (let i = 1; i < 200; i++) store.assets.addLocation(assetId, { name: `${i}`, component: 'c' });
    return send('POST', `/api/assets/${assetId}/locations`, { name: 'a', component: 'b' });
  },
  BODY_TOO_LARGE: async () => (await shop()).send('POST', '/api/assets', { name: 'x'.repeat(70_000) }),
  MEDIA_TYPE_REFUSED: async () => {
    const { call, cookie } = await shop();
    return call('POST', '/api/assets', { cookie, body: 'name=a', headers: { 'content-type': 'text/plain' } });
  },
  TOO_MANY_REQUESTS: async () => {
    const { send } = await shop({ limits: { requestsPerMinute: 1 } });
    await send('GET', '/api/session');
    return send('GET', '/api/session');
  },
  INTERNAL_ERROR: async () => {
    const health = () => Promise.reject(new Error('detail of the inside'));
    const { send, logged } = await shop({ deps: { health } });
    const answer = await send('GET', '/api/health');
    expect(answer.text).not.toContain('inside');
    expect(logged.join()).toContain('detail of the inside');
    return answer;
  },
  RECORDS_UNREADABLE: async () => {
    const folder = tempDir();
    const { send } = await shop({ deps: { records: records({ folder }) } });
    const other = new Database(join(folder, 'records.sqlite'));
    onTestFinished(() => void other.close());
    other.exec('BEGIN IMMEDIATE');
    return send('POST', '/api/assets', { name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
  },
  READINGS_UNAVAILABLE: async () => {
    const { send, store, location } = await shop({ deps: { readings: damagedReadings() } });
    const id = location();
    store.nodes.add(NODE_A, 'a');
    store.mounts.put(id, { nodeId: NODE_A, sensor: 0 }, 0);
    return send('GET', `/api/locations/${id}/trend?fromMs=0&toMs=10000`);
  },
  TOO_MANY_BROWSERS: async () => {
    const { app, cookie } = await shop({ limits: { browsers: 0 } });
    await app.listen({ host: '127.0.0.1', port: 0 });
    const host = `127.0.0.1:${(app.server.address() as AddressInfo).port}`;
    const socket = new WebSocket(`ws://${host}/api/live`, { headers: { cookie, origin: `http://${host}` } });
    const [, response] = await once(socket, 'unexpected-response');
    let text = '';
    for await (const chunk of response) text += chunk;
    return { status: response.statusCode, json: JSON.parse(text) };
  },
};

describe('the table of errors', () => {
  it.each(Object.keys(PROVOKE) as ErrorCode[])('%s is what really comes', async (code) => {
    const { status, json } = await PROVOKE[code]();
    const { status: expected, remedy } = ERRORS[code];
    expect({ status, code: json.code, remedy: json.remedy }).toEqual({ status: expected, code, remedy });
    expect(Value.Check(ApiError, json)).toBe(true);
    expect(JSON.stringify(json)).not.toMatch(/node_modules|\.ts:|\bat \w+ \(/);
  });

  it('tells in every line what is wrong and what to do', () => {
    for (const [code, { message, remedy }] of Object.entries(ERRORS)) {
      expect(`${code}: ${message}`).toMatch(/: [A-Z].{10,}[^.]\.$/);
      expect(`${code}: ${remedy}`).toMatch(/: [A-Z].{5,}[^.]\.$/);
    }
  });
});
