import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import { NodeSummary } from '../../../dashboard/contract/model.ts';
import { FeltTap, SensorRecord } from '../../../dashboard/contract/rig.ts';
import { healthTopic, readingTopic, tapTopic } from '../../../firmware-protocol/index.ts';
import { eventually, liveStation, SITE } from './live-station.ts';
import { feltSecond, soundHealth } from './rig-support.ts';
import { NODE_A, NODE_B, NOON_MS, testApp } from './support.ts';

describe('nodes', () => {
  it('tell how they do, from what the collector publishes', async () => {
    const { store, publish, logIn, get, fed, time } = await liveStation();
    store.nodes.add(NODE_A, 'Gearbox board');
    store.nodes.add(NODE_B, 'Spare board');
    const { cookie } = logIn();
    await fed(cookie);
    expect((await get('/api/nodes', cookie))[0].soundness.verdict).toBe('not-sound');
    await publish(readingTopic(SITE, NODE_A, 0), feltSecond(NODE_A, 0, time.now() - 1000, [0, 0, 9.8]), true);
    await publish(healthTopic(SITE, NODE_A), soundHealth(NODE_A, time.now()), true);
    const nodes = await eventually(async () => {
      const found = await get('/api/nodes', cookie);
      return found[0].health ? found : undefined;
    });
    for (const node of nodes) expect(Value.Check(NodeSummary, node)).toBe(true);
    expect(nodes[0]).toMatchObject({
      label: 'Gearbox board',
      soundness: { verdict: 'sound', reasons: [] },
      health: { status: { batteryPercent: 64, firmwareVersion: '1.4.0' }, sensors: [{ trueRateHz: 3187.4 }] },
    });
    expect(nodes[1].soundness.reasons).toEqual([expect.objectContaining({ code: 'never-heard' })]);
    expect(nodes[1]).not.toHaveProperty('health');
  });

  it('are refused with a reason that helps', async () => {
    const login = (nodeId: string | null, lastMs = NOON_MS + 1) => ({
      nodeId,
      address: '10.0.0.7',
      attempts: 3,
      lastMs,
    });
    const { call, as, store } = await testApp({
      deps: {
        refusedLogins: () => [
          login(NODE_A),
          login(NODE_A, NOON_MS - 1),
          login(NODE_B),
          login(null),
          login('00000000000000c3'),
        ],
      },
    });
    store.nodes.add(NODE_A, 'a');
    store.nodes.add(NODE_B, 'b');
    store.nodes.revoke(NODE_B);
    const { json } = await call('GET', '/api/nodes/refused', await as('technician'));
    expect(json.map(({ why }: { why: string }) => why)).toEqual([
      'wrong-password',
      'revoked',
      'unknown',
      'unknown',
    ]);
  });

  it('are cut off at once when they are revoked', async () => {
    const cut: string[] = [];
    const { call, as, store } = await testApp({
      deps: { disconnectNode: (nodeId) => void cut.push(nodeId) },
    });
    store.nodes.add(NODE_A, 'a');
    await call('DELETE', `/api/nodes/${NODE_A}`, await as('shop'));
    expect(cut).toEqual([NODE_A]);
    // Nothing is cut for a node that is not known.
    await call('DELETE', `/api/nodes/${NODE_B}`, await as('shop'));
    expect(cut).toEqual([NODE_A]);
  });
});

describe('taps', () => {
  it('reach every page, gathered to one rap, the strongest first', async () => {
    const { publish, logIn, get, fed, browser, time } = await liveStation();
    const { cookie } = logIn();
    await fed(cookie);
    const page = await browser(cookie);
    const tap = (nodeId: string, peakMPerS2: number) =>
      publish(tapTopic(SITE, nodeId), {
        nodeId,
        sensor: 0,
        atMs: time.now(),
        peakMPerS2,
        source: 'samples',
        atRest: true,
      });
    await tap(NODE_A, 4);
    await tap(NODE_B, 40);
    const [first, second] = await page.waitFor('tap', 2);
    expect(first!.tap.felt.map(({ nodeId }) => nodeId)).toEqual([NODE_A]);
    expect(second!.tap).toMatchObject({
      id: first!.tap.id,
      clear: true,
      felt: [{ nodeId: NODE_B }, { nodeId: NODE_A }],
    });
    const taps = await get('/api/felt-taps', cookie);
    expect(taps).toEqual([second!.tap]);
    expect(Value.Check(FeltTap, taps[0])).toBe(true);
    // Not a tap, or another node's: counted, not shown.
    await publish(tapTopic(SITE, NODE_A), { nodeId: NODE_B, sensor: 0 });
    await eventually(
      async () => (await get('/api/health', cookie)).counters['dashboard.stationMessagesRefused'] === 1,
    );
    time.advance(3_600_000);
    expect(await get('/api/felt-taps', cookie)).toEqual([]);
  });
});

describe('the sensor inventory', () => {
  it('keeps part, serial, noise and tolerance', async () => {
    const { call, as, store } = await testApp();
    const person = await as('technician');
    const url = `/api/nodes/${NODE_A}/sensors/2`;
    const body = { part: 'ADXL345', serial: 'K 17', noiseDensityUmPerS2PerRtHz: 4000, tolerancePct: 5 };
    expect((await call('PUT', url, { ...person, body })).json.code).toBe('NODE_NOT_FOUND');
    store.nodes.add(NODE_A, 'a');
    const { json } = await call('PUT', url, { ...person, body });
    expect(json).toEqual({
      nodeId: NODE_A,
      sensor: 2,
      part: 'ADXL345',
      serial: 'K 17',
      noiseDensityUmPerS2PerRtHz: 4000,
      tolerancePct: 5,
      dataSheetTolerancePct: 5,
      gravityCheck: null,
      shakerCheck: null,
    });
    expect((await call('GET', '/api/sensors', person)).json).toEqual([json]);
    for (const wrong of [{ tolerancePct: 0 }, { tolerancePct: 101 }, { part: 7 }, { colour: 'red' }])
      expect((await call('PUT', url, { ...person, body: { ...body, ...wrong } })).status).toBe(400);
  });

  it('takes a guided gravity check: six faces and a slant, lain still', async () => {
    const { store, publish, logIn, get, fed, dashboard, time } = await liveStation();
    const { cookie } = logIn();
    await fed(cookie);
    store.nodes.add(NODE_A, 'a');
    const url = `/api/nodes/${NODE_A}/sensors/0/gravity-check`;
    const send = (method: string, path: string) =>
      fetch(`${dashboard.url}${path}`, { method, headers: { cookie, origin: dashboard.url } });
    expect((await send('POST', url)).status).toBe(200);
    const g = 9.80665;
    const s = g / Math.sqrt(2);
    const positions = [
      [g, 0, 0],
      [-g, 0, 0],
      [0, g, 0],
      [0, -g, 0],
      [0, 0, g],
      [0, 0, -g],
      [s, s, 0],
    ] as const;
    const startMs = time.now() - 200_000;
    let second = 0;
    for (const [x, y, z] of positions) {
      for (let hold = 0; hold < 5; hold++) {
        // An x axis that reads 3 % too much and 0.5 m/s² too high.
        const felt = [1.03 * x + 0.5, y, z] as const;
        await publish(readingTopic(SITE, NODE_A, 0), feltSecond(NODE_A, 0, startMs + 1000 * second++, felt));
      }
    }
    const state = await eventually(async () => {
      const now = await get(url, cookie);
      return now.positions.length === 7 ? now : undefined;
    });
    expect(state.result.scale[0]).toBeCloseTo(1.03, 4);
    expect(state.result.offsetMPerS2[0]).toBeCloseTo(0.5, 3);
    expect(state.result.residualMPerS2).toBeLessThan(1e-3);
    const saved = (await (await send('POST', `${url}/save`)).json()) as SensorRecord;
    expect(Value.Check(SensorRecord, saved)).toBe(true);
    expect(saved.gravityCheck!.atMs).toBe(time.now());
    // 3 % of scale and 0.3 % of local gravity; the residual adds next to nothing.
    expect(saved.tolerancePct).toBeCloseTo(3.3, 2);
    expect((await get(url, cookie)).code).toBe('GRAVITY_CHECK_NOT_FOUND');
    expect(await get('/api/sensors', cookie)).toEqual([saved]);
  });

  it('checks a sensor on a reference shaker, and takes the newest check of either kind for its tolerance', async () => {
    const { call, as, store, readings, time } = await testApp();
    const person = await as('technician');
    store.nodes.add(NODE_A, 'a');
    const url = `/api/nodes/${NODE_A}/sensors/0/shaker-check`;
    const body = { frequencyHz: 159.2, accelerationRmsMPerS2: 10, tolerancePct: 3 };
    const early = await call('POST', url, { ...person, body });
    expect([early.status, early.json.code]).toEqual([422, 'SHAKER_CHECK_UNUSABLE']);
    expect(early.json.message).toMatch(/^0 sound seconds on end were measured/);
    // 10.2 m/s² RMS at 159.2 Hz: velocity is acceleration over 2 pi f.
    const rms = 10.2;
    for (let s = 9; s >= 1; s--) {
      const felt = feltSecond(NODE_A, 0, time.now() - 1000 * (s + 1), [0, 0, 9.81]);
      const level = (share: number) => ({
        accelerationRmsMPerS2: share * rms,
        velocityRmsMmPerS: (1000 * share * rms) / (2 * Math.PI * 159.2),
      });
      await readings.add({
        ...felt,
        axes: felt.axes.map((axis, i) => ({ ...axis, ...level(i === 2 ? 1 : 0.05) })),
      });
    }
    store.sensors.addCheck(NODE_A, 0, {
      scale: [1, 1, 1],
      offsetMPerS2: [0, 0, 0],
      residualMPerS2: null,
      positions: 6,
      tolerancePct: 1.3,
    });
    time.advance(1);
    const { status, json } = await call('POST', url, { ...person, body });
    expect(status).toBe(200);
    expect(Value.Check(SensorRecord, json)).toBe(true);
    expect(json.shakerCheck).toMatchObject({ axis: 'z', seconds: 9, reference: body, atMs: time.now() });
    expect(json.shakerCheck.deviationPct).toBeCloseTo(2, 5);
    expect(json.tolerancePct).toBeCloseTo(5, 5);
    time.advance(60_000);
    const again = {
      ...{
        scale: [1, 1, 1] as [number, number, number],
        offsetMPerS2: [0, 0, 0] as [number, number, number],
      },
      residualMPerS2: null,
      positions: 6,
    };
    const later = store.sensors.addCheck(NODE_A, 0, { ...again, tolerancePct: 1.3 });
    expect([later.tolerancePct, later.shakerCheck!.deviationPct]).toEqual([1.3, expect.closeTo(2, 5)]);
    for (const wrong of [{ frequencyHz: 5 }, { accelerationRmsMPerS2: 0 }, { colour: 'red' }])
      expect((await call('POST', url, { ...person, body: { ...body, ...wrong } })).status).toBe(400);
  });

  it('makes the range of a level as wide as the sensor is known', async () => {
    const { call, as, store, readings, time } = await testApp();
    const person = await as('technician');
    const asset = store.assets.add({ name: 'Fan', kind: 'machine', machineClass: 'I' });
    const { id } = store.assets.addLocation(asset.id, { name: 'Drive end', component: 'Motor' });
    store.nodes.add(NODE_A, 'a');
    store.mounts.put(id, { nodeId: NODE_A, sensor: 0 }, time.now() - 60_000);
    const felt = feltSecond(NODE_A, 0, time.now() - 2000, [0, 0, 9.81]);
    await readings.add({
      ...felt,
      axes: felt.axes.map((axis) => ({ ...axis, velocityRmsMmPerS: 2, velocityUncertaintyMmPerS: 0.3 })),
    });
    const range = async () =>
      (await call('GET', `/api/locations/${id}`, person)).json.newest.highest.velocityUncertaintyMmPerS;
    const body = { part: '', serial: '', noiseDensityUmPerS2PerRtHz: null };
    const know = (tolerancePct: number) =>
      call('PUT', `/api/nodes/${NODE_A}/sensors/0`, { ...person, body: { ...body, tolerancePct } });
    expect(await range()).toBeCloseTo(0.3, 6);
    await know(1);
    // 2 x 2 mm/s x sqrt((5 %)² - (1 %)²) / sqrt 3 is taken away from it, in squares.
    expect(await range()).toBeCloseTo(Math.sqrt(0.3 ** 2 - (16 * (0.05 ** 2 - 0.01 ** 2)) / 3), 6);
    await know(12);
    expect(await range()).toBeGreaterThan(0.3);
    expect((await call('GET', `/api/locations/${id}`, person)).json.mount.tolerancePct).toBe(12);
  });

  it('forgets a check that is given up', async () => {
    const { call, as, store } = await testApp();
    const person = await as('technician');
    store.nodes.add(NODE_A, 'a');
    const url = `/api/nodes/${NODE_A}/sensors/0/gravity-check`;
    await call('POST', url, person);
    expect((await call('GET', url, person)).json).toMatchObject({ positions: [], result: null });
    await call('DELETE', url, person);
    expect((await call('GET', url, person)).status).toBe(404);
    expect((await call('POST', `/api/nodes/${NODE_B}/sensors/0/gravity-check`, person)).status).toBe(404);
  });
});

describe('the settings of the station', () => {
  it('are read by all, written by the shop, and bounded', async () => {
    const { call, as } = await testApp();
    const [shop, technician] = [await as('shop'), await as('technician')];
    expect((await call('GET', '/api/settings', technician)).json).toEqual({ mountTurnDeg: 10 });
    const body = { mountTurnDeg: 15 };
    expect((await call('PUT', '/api/settings', { ...technician, body })).status).toBe(403);
    expect((await call('PUT', '/api/settings', { ...shop, body })).json).toEqual(body);
    expect((await call('PUT', '/api/settings', { ...shop, body: { mountTurnDeg: 1 } })).status).toBe(400);
    expect((await call('GET', '/api/settings', technician)).json).toEqual(body);
  });
});

describe('a turned mount', () => {
  it('shows at its location until a person confirms it', async () => {
    const { call, as, store, time } = await testApp();
    const person = await as('technician');
    const asset = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
    const { id } = store.assets.addLocation(asset.id, { name: 'Hub', component: 'Rear axle' });
    store.nodes.add(NODE_A, 'a');
    store.mounts.put(id, { nodeId: NODE_A, sensor: 0 });
    time.advance(60_000);
    const turnedMs = time.now() - 30_000;
    store.stretches.turned(store.stretches.current()[0]!.mountId, turnedMs, 31.4);
    const mount = (await call('GET', `/api/locations/${id}`, person)).json.mount;
    expect(mount).toEqual({ nodeId: NODE_A, sensor: 0, turned: { atMs: turnedMs, turnedDeg: 31.4 } });
    const { json } = await call('POST', `/api/locations/${id}/mount/confirm`, person);
    expect(json.mount).toEqual({ nodeId: NODE_A, sensor: 0 });
  });
});
