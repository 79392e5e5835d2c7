import { once } from 'node:events';
import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import WebSocket from 'ws';
import type { LiveBlock } from '../../../collector/model.ts';
import { Health } from '../../../dashboard/contract/http.ts';
import { ServerMessage } from '../../../dashboard/contract/live.ts';
import { collectorTopic, liveTopic, readingTopic, watchTopic } from '../../../firmware-protocol/index.ts';
import { eventually, liveStation, SITE } from './live-station.ts';
import { reading } from './stored-readings.ts';
import { NODE_A, NODE_B, NOON_MS } from './support.ts';

async function twoPlaces(options: Parameters<typeof liveStation>[0] = {}) {
  const station = await liveStation(options);
  const { store } = station;
  store.nodes.add(NODE_A, 'a');
  store.nodes.add(NODE_B, 'b');
  const asset = store.assets.add({ name: 'Fan', kind: 'machine', machineClass: 'I' });
  const [hub, foot] = ['Hub', 'Foot'].map(
    (name) => store.assets.addLocation(asset.id, { name, component: name }).id,
  );
  store.mounts.put(hub!, { nodeId: NODE_A, sensor: 0 });
  store.mounts.put(foot!, { nodeId: NODE_B, sensor: 0 });
  const { cookie, session } = station.logIn();
  return { ...station, hub: hub!, foot: foot!, cookie, session, assetId: asset.id };
}

const at = (second: number) => NOON_MS + 1000 * second;

function block(nodeId: string, points = 4): LiveBlock {
  const waveformMPerS2 = Array.from({ length: points }, (_, i) => i);
  return {
    nodeId,
    sensor: 0,
    startMs: at(5),
    sampleRateHz: 3200,
    axes: [{ axis: 'x', waveformMPerS2, spectrumMPerS2: [0, 0.123456789] }],
    spectrumStepHz: 1,
  };
}

describe('live readings', () => {
  it('reach everybody, as readings of the location', async () => {
    const { fed, cookie, browser, publish, hub, get } = await twoPlaces();
    await fed(cookie);
    const [one, other] = [await browser(cookie), await browser(cookie)];
    await publish(readingTopic(SITE, NODE_A, 0), reading(NODE_A, 0, at(1), 3), true);
    for (const { waitFor } of [one, other]) {
      const [message] = await waitFor('reading');
      expect(message!.reading).toMatchObject({
        locationId: hub,
        startMs: at(1),
        highest: { axis: 'x', velocityRmsMmPerS: 3, zone: 'C' },
      });
      expect(Value.Check(ServerMessage, message)).toBe(true);
    }
    const [fan] = await get('/api/assets', cookie);
    expect(fan.locations[0].newest.startMs).toBe(at(1));
  });

  it('leave out what is old, misplaced, damaged or belongs to no location', async () => {
    const { fed, cookie, browser, publish, store, foot, get } = await twoPlaces();
    await fed(cookie);
    store.mounts.put(foot, null);
    const page = await browser(cookie);
    await publish(readingTopic(SITE, NODE_A, 0), reading(NODE_A, 0, at(9)));
    await publish(readingTopic(SITE, NODE_A, 0), reading(NODE_A, 0, at(8))); // Older: late from a node's store.
    await publish(readingTopic(SITE, NODE_B, 0), reading(NODE_B, 0, at(9))); // Mounted nowhere.
    await publish(readingTopic(SITE, NODE_A, 1), reading(NODE_A, 0, at(20))); // Topic of another sensor.
    await publish(readingTopic(SITE, NODE_A, 0), '{"nodeId":');
    await publish(readingTopic(SITE, NODE_A, 0), 'null');
    await publish(readingTopic(SITE, NODE_A, 0), { ...reading(NODE_A, 0, at(21)), axes: 'none' });
    await publish(readingTopic(SITE, NODE_A, 0), reading(NODE_A, 0, at(10)));
    const found = await page.waitFor('reading', 2);
    expect(found.map(({ reading }) => reading.startMs)).toEqual([at(9), at(10)]);
    expect((await get('/api/health', cookie)).counters['dashboard.stationMessagesRefused']).toBe(4);
  });

  it('come back to the present after a recording that ran ahead of the clock', async () => {
    const { fed, cookie, browser, publish } = await twoPlaces();
    await fed(cookie);
    const page = await browser(cookie);
    for (const second of [5_000, 5_001, 3]) {
      await publish(readingTopic(SITE, NODE_A, 0), reading(NODE_A, 0, at(second)));
    }
    const found = await page.waitFor('reading', 3);
    expect(found.map(({ reading }) => reading.startMs)).toEqual([at(5_000), at(5_001), at(3)]);
  });

  it('do not end the station when the records fail', async () => {
    const { fed, cookie, browser, publish, store, logged } = await twoPlaces();
    await fed(cookie);
    const page = await browser(cookie);
    store.close();
    await publish(readingTopic(SITE, NODE_A, 0), reading(NODE_A, 0, at(1)));
    await eventually(() => logged.some((line) => line.includes('the live line failed')));
    expect(page.of('reading')).toEqual([]);
  });

  it('come from the store while the broker is away, and over the broker again when it is back', async () => {
    const { fed, cookie, browser, publish, broker, readings, get, time, logged, collector } =
      await twoPlaces();
    await fed(cookie);
    const page = await browser(cookie);
    await broker.stop();
    await eventually(async () => (await get('/api/health', cookie)).mqtt.connected === false);
    expect((await get('/api/health', cookie)).ok).toBe(false);
    for (const second of [3, 4]) {
      await readings.add(reading(NODE_A, 0, at(second)));
      time.advance(2_000);
      const [fan] = await get('/api/assets', cookie);
      expect(fan.locations[0].newest.startMs).toBe(at(second));
    }
    await broker.start();
    await fed(cookie);
    await eventually(() => collector.connected);
    await publish(readingTopic(SITE, NODE_A, 0), reading(NODE_A, 0, at(7)));
    expect((await page.waitFor('reading'))[0]!.reading.startMs).toBe(at(7));
    expect(logged.filter((line) => line.includes('lost the broker'))).toHaveLength(1);
  });

  it('say in the log that the broker refuses the account, once', async () => {
    const { logged, get, cookie } = await twoPlaces({ password: 'wrong' });
    await eventually(() => logged.some((line) => line.includes('no connection to the broker')));
    expect((await get('/api/health', cookie)).mqtt.connected).toBe(false);
    expect(logged.join()).not.toContain('wrong');
  });
});

describe('live waveforms', () => {
  it('are asked for while somebody watches, and reach watchers only', async () => {
    const { fed, cookie, browser, publish, hub, foot, broker } = await twoPlaces();
    await fed(cookie);
    const [watcher, other] = [await browser(cookie), await browser(cookie)];
    const lease = watchTopic(SITE, NODE_A, 0);
    expect(broker.published).not.toContain(lease);
    watcher.send({ type: 'watch', locationId: hub });
    await eventually(() => broker.published.filter((topic) => topic === lease).length >= 3);
    await publish(liveTopic(SITE, NODE_B, 0), block(NODE_B));
    await publish(liveTopic(SITE, NODE_A, 0), block(NODE_A));
    const [message] = await watcher.waitFor('waveform');
    expect(message).toMatchObject({ locationId: hub, startMs: at(5), sampleRateHz: 3200, spectrumStepHz: 1 });
    expect(message!.axes).toEqual([{ axis: 'x', waveformMPerS2: [0, 1, 2, 3], spectrumMPerS2: [0, 0.1235] }]);
    expect(Value.Check(ServerMessage, message)).toBe(true);

    watcher.send({ type: 'watch', locationId: foot });
    await eventually(() => broker.published.includes(watchTopic(SITE, NODE_B, 0)));
    await publish(liveTopic(SITE, NODE_A, 0), block(NODE_A));
    await publish(liveTopic(SITE, NODE_B, 0), block(NODE_B));
    expect((await watcher.waitFor('waveform', 2)).map(({ locationId }) => locationId)).toEqual([hub, foot]);
    expect(other.of('waveform')).toEqual([]);

    watcher.send({ type: 'watch', locationId: null });
    await watcher.waitFor('heartbeat', watcher.of('heartbeat').length + 1);
    const leases = broker.published.filter((topic) => topic.includes('/watch/')).length;
    await watcher.waitFor('heartbeat', watcher.of('heartbeat').length + 3);
    expect(broker.published.filter((topic) => topic.includes('/watch/'))).toHaveLength(leases);
  });

  it('follow the location when another sensor is put there', async () => {
    const { fed, cookie, browser, publish, hub, broker, store } = await twoPlaces();
    await fed(cookie);
    const page = await browser(cookie);
    page.send({ type: 'watch', locationId: hub });
    await eventually(() => broker.published.includes(watchTopic(SITE, NODE_A, 0)));
    store.mounts.put(hub, { nodeId: NODE_B, sensor: 0 });
    await eventually(() => broker.published.includes(watchTopic(SITE, NODE_B, 0)));
    await publish(liveTopic(SITE, NODE_A, 0), block(NODE_A));
    await publish(liveTopic(SITE, NODE_B, 0), { ...block(NODE_B), startMs: at(6) });
    expect((await page.waitFor('waveform'))[0]!.startMs).toBe(at(6));
  });

  it('are dropped for a browser that does not keep up, which is then cut off; others go on', async () => {
    const { fed, cookie, browser, publish, hub, get } = await twoPlaces({
      limits: { waveformBacklogBytes: 20_000, backlogBytes: 40_000, heartbeatMs: 60_000 },
    });
    await fed(cookie);
    const [slow, quick] = [await browser(cookie), await browser(cookie)];
    slow.send({ type: 'watch', locationId: hub });
    await slow.waitFor('heartbeat');
    slow.socket.pause();
    const counters = async () => (await get('/api/health', cookie)).counters;
    const big = JSON.stringify(block(NODE_A, 8192));
    await eventually(async () => {
      for (let i = 0; i < 20; i++) await publish(liveTopic(SITE, NODE_A, 0), big);
      return (await counters())['dashboard.waveformsDropped'] > 0;
    });
    expect((await counters())['dashboard.browsersCutOff']).toBe(0);
    let second = 10;
    await eventually(async () => {
      for (let i = 0; i < 20; i++)
        await publish(readingTopic(SITE, NODE_A, 0), reading(NODE_A, 0, at(second++)));
      return (await counters())['dashboard.browsersCutOff'] === 1;
    });
    expect((await counters())['dashboard.browsers']).toBe(1);
    const last = second - 1;
    await eventually(() => quick.of('reading').at(-1)?.reading.startMs === at(last));
    expect(quick.of('reading')).toHaveLength(last - 9);
  });
});

describe('health', () => {
  it('is good when broker, journal and collector are, and tells the collector’s counters', async () => {
    const { fed, cookie, get, publish, dashboard, time } = await twoPlaces();
    await fed(cookie);
    const health = () => get('/api/health', cookie);
    expect((await health()).ok, 'the collector has not been heard yet').toBe(false);
    const state = {
      atMs: NOON_MS,
      phase: 'live',
      lagMs: 800,
      caughtUpShare: null,
      lastReadingMs: at(2),
      counters: { packets: 12 },
      error: null,
    };
    await publish(collectorTopic(SITE), state, true);
    await eventually(async () => (await health()).ok);
    const full = await health();
    expect(Value.Check(Health, full)).toBe(true);
    expect(full.collector).toMatchObject({ lagMs: 800, lastReadingMs: at(2), phase: 'live' });
    expect(full.counters).toMatchObject({ accepted: 4, 'collector.packets': 12, 'dashboard.browsers': 0 });
    expect(await (await fetch(`${dashboard.url}/api/health`)).json()).toEqual({ ok: true });
    await publish(collectorTopic(SITE), { ...state, lagMs: 90_000 }, true);
    await eventually(async () => !(await health()).ok);
    await publish(collectorTopic(SITE), state, true);
    await eventually(async () => (await health()).ok);
    time.advance(20_000);
    expect((await health()).collector.phase).toBe('silent');
    expect((await health()).ok).toBe(false);
  });
});

describe('the live line', () => {
  it('beats, and tells when assets change', async () => {
    const { cookie, browser, store, assetId } = await twoPlaces();
    const page = await browser(cookie);
    expect((await page.waitFor('heartbeat', 3)).every(({ nowMs }) => nowMs === NOON_MS)).toBe(true);
    expect(page.of('assets-changed')).toEqual([]);
    store.assets.change(assetId, { name: 'Big fan' });
    await page.waitFor('assets-changed');
  });

  it('is cut when the browser has gone without a word', async () => {
    const { cookie, browser, get } = await twoPlaces();
    const [gone, there] = [await browser(cookie), await browser(cookie)];
    gone.socket.pause();
    await eventually(async () => (await get('/api/health', cookie)).counters['dashboard.browsers'] === 1);
    expect(there.socket.readyState).toBe(WebSocket.OPEN);
  });

  it.each([
    ['no login', '', undefined, 401],
    ['an invented session', `clampline-session=${'0'.repeat(64)}`, undefined, 401],
    ['the page of another site', null, 'http://elsewhere.example', 403],
    ['a page that hides its origin', null, 'null', 403],
  ])('refuses %s', async (_what, cookie, origin, status) => {
    const station = await twoPlaces();
    const { url } = station.dashboard;
    const socket = new WebSocket(`${url.replace('http', 'ws')}/api/live`, {
      headers: { cookie: cookie ?? station.cookie, origin: origin ?? url },
    });
    const [, response] = await once(socket, 'unexpected-response');
    expect(response.statusCode).toBe(status);
    response.destroy();
  });

  it('ends with the session: at once on logout, soon after expiry', async () => {
    const { cookie, session, logIn, browser, store, time } = await twoPlaces();
    const lasting = logIn();
    const [first, second] = [await browser(cookie), await browser(lasting.cookie)];
    store.sessions.close(session.id);
    expect(await first.closed).toEqual({ code: 4001, reason: 'logged out' });
    await second.waitFor('heartbeat', second.of('heartbeat').length + 2);
    expect(second.socket.readyState).toBe(WebSocket.OPEN);
    time.advance(8 * 86_400_000);
    expect(await second.closed).toEqual({ code: 4001, reason: 'the session has ended' });
  });

  it.each([
    '{"type":"watch"}',
    '{"type":"shout","locationId":1}',
    'not json',
    '[]',
    '',
    '{"type":"watch","locationId":1.5}',
  ])('sends away who says %j', async (text) => {
    const { cookie, browser, get } = await twoPlaces();
    const page = await browser(cookie);
    page.send(text);
    expect((await page.closed).code).toBe(1008);
    expect((await get('/api/health', cookie)).counters['dashboard.browserMessagesRefused']).toBe(1);
  });

  it('sends away who says too much', async () => {
    const { cookie, browser, hub } = await twoPlaces({ limits: { heartbeatMs: 60_000 } });
    const [long, often] = [await browser(cookie), await browser(cookie)];
    long.send('x'.repeat(5_000));
    expect((await long.closed).code).toBeGreaterThanOrEqual(1006);
    for (let i = 0; i < 60; i++) often.send({ type: 'watch', locationId: hub });
    expect((await often.closed).code).toBe(1008);
  });

  it('ends when the station stops, and leaves nothing running', async () => {
    const { cookie, browser, dashboard } = await twoPlaces();
    const [page, silent] = [await browser(cookie), await browser(cookie)];
    silent.socket.pause();
    await dashboard.close();
    expect((await page.closed).code).toBe(1001);
    await expect(fetch(dashboard.url)).rejects.toThrow();
  });
});
