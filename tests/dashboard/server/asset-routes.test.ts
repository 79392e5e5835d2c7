import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import { Asset, type Location, LocationReading, NodeSummary } from '../../../dashboard/contract/model.ts';
import { reading } from './stored-readings.ts';
import { NODE_A, NODE_B, NOON_MS, testApp } from './support.ts';

async function signedIn() {
  const test = await testApp();
  const { cookie } = await test.as('shop');
  const call = (method: Parameters<typeof test.call>[0], url: string, body?: unknown) =>
    test.call(method, url, { cookie, ...(body === undefined ? {} : { body }) });
  return { ...test, call };
}

const BUS = { name: 'Bus 1', kind: 'vehicle', machineClass: 'II' };
const HUB = { name: 'Hub', component: 'Rear axle' };

describe('assets and locations', () => {
  it('are made, changed and deleted', async () => {
    const { call } = await signedIn();
    const asset = (await call('POST', '/api/assets', BUS)).json;
    expect(asset).toEqual({ id: asset.id, ...BUS, locations: [] });
    const location = (await call('POST', `/api/assets/${asset.id}/locations`, HUB)).json;
    expect(location).toEqual({ id: location.id, ...HUB, mount: null, newest: null, finding: null });
    expect((await call('GET', '/api/assets')).json).toEqual([{ ...asset, locations: [location] }]);

    const changed = (await call('PATCH', `/api/assets/${asset.id}`, { machineClass: 'III' })).json;
    expect(changed).toMatchObject({ name: 'Bus 1', machineClass: 'III', locations: [location] });
    expect((await call('PATCH', `/api/locations/${location.id}`, { name: 'Left hub' })).json).toMatchObject({
      name: 'Left hub',
      component: 'Rear axle',
    });
    expect((await call('GET', `/api/locations/${location.id}`)).json.name).toBe('Left hub');

    expect((await call('DELETE', `/api/locations/${location.id}`)).json).toEqual({ done: true });
    expect((await call('GET', `/api/locations/${location.id}`)).json.code).toBe('LOCATION_NOT_FOUND');
    expect((await call('DELETE', `/api/assets/${asset.id}`)).status).toBe(200);
    expect((await call('DELETE', `/api/assets/${asset.id}`)).json.code).toBe('ASSET_NOT_FOUND');
    expect((await call('GET', '/api/assets')).json).toEqual([]);
  });

  it.each(['1.5', '1e0', '0x1', ' 1', 'one'])('an id written as %j deletes nothing', async (id) => {
    const { call } = await signedIn();
    const asset = (await call('POST', '/api/assets', BUS)).json;
    expect(asset.id).toBe(1);
    const refused = await call('DELETE', `/api/assets/${encodeURIComponent(id)}`);
    expect(refused.json).toMatchObject({ code: 'VALIDATION_FAILED', field: 'id' });
    expect((await call('GET', '/api/assets')).json).toHaveLength(1);
  });

  it.each([
    ['POST', '/api/assets', { ...BUS, name: '' }, 'name'],
    ['POST', '/api/assets', { ...BUS, name: '   ' }, 'name'],
    ['POST', '/api/assets', { ...BUS, name: 'x'.repeat(81) }, 'name'],
    ['POST', '/api/assets', { ...BUS, kind: 'boat' }, 'kind'],
    ['POST', '/api/assets', { ...BUS, machineClass: 2 }, 'machineClass'],
    ['POST', '/api/assets', { name: 'Bus 1', kind: 'vehicle' }, 'machineClass'],
    ['POST', '/api/assets', { ...BUS, colour: 'red' }, 'colour'],
    ['POST', '/api/assets', [], 'body'],
    ['POST', '/api/assets', undefined, 'body'],
    ['PATCH', '/api/assets/1', {}, 'body'],
    ['PATCH', '/api/assets/1', { nmae: 'Bus' }, 'nmae'],
    ['PATCH', '/api/assets/one', { name: 'Bus' }, 'id'],
    ['GET', '/api/locations/0', undefined, 'id'],
    ['PUT', '/api/locations/1/mount', { mount: { nodeId: NODE_A, sensor: 16 } }, 'mount.sensor'],
    ['PUT', '/api/locations/1/mount', { mount: { nodeId: 'A1', sensor: 0 } }, 'mount.nodeId'],
    ['PUT', '/api/locations/1/mount', {}, 'mount'],
    ['POST', '/api/nodes', { nodeId: NODE_A.toUpperCase(), label: 'x' }, 'nodeId'],
    ['DELETE', '/api/nodes/xyz', undefined, 'nodeId'],
    ['GET', '/api/locations/1/trend?fromMs=0', undefined, 'toMs'],
    ['GET', '/api/locations/1/trend?fromMs=0&toMs=soon', undefined, 'toMs'],
    ['GET', '/api/locations/1/trend?fromMs=0&toMs=9&points=2001', undefined, 'points'],
    ['GET', '/api/locations/1/trend?fromMs=0&toMs=9&value=loudness', undefined, 'value'],
    ['GET', '/api/locations/1/readings?fromMs=0', undefined, 'toMs'],
  ] as const)('%s %s refuses %j and names the field', async (method, url, body, field) => {
    const { call } = await signedIn();
    const refused = await call(method, url, body);
    expect(refused.status).toBe(400);
    expect(refused.json).toMatchObject({ code: 'VALIDATION_FAILED', field });
    expect(refused.json.message).toContain(`'${field}'`);
  });

  it('show the newest reading of the sensor that sits there now', async () => {
    const { call, store, readings, time } = await signedIn();
    store.nodes.add(NODE_A, 'a');
    store.nodes.add(NODE_B, 'b');
    const asset = store.assets.add({ name: 'Fan', kind: 'machine', machineClass: 'I' });
    const [hub, foot] = ['Hub', 'Foot'].map((name) =>
      store.assets.addLocation(asset.id, { name, component: name }),
    );
    await readings.add(reading(NODE_A, 0, NOON_MS - 5_000, 9));
    const mounted = await call('PUT', `/api/locations/${hub!.id}/mount`, {
      mount: { nodeId: NODE_A, sensor: 0 },
    });
    expect(mounted.json.mount).toEqual({ nodeId: NODE_A, sensor: 0 });
    expect(mounted.json.newest, 'measured before it was put on').toBeNull();

    time.advance(3_000);
    await readings.add(reading(NODE_A, 0, NOON_MS + 2_000, 2));
    const { newest } = (await call('GET', `/api/locations/${hub!.id}`)).json;
    expect(newest.highest).toMatchObject({ axis: 'x', velocityRmsMmPerS: 2, zone: 'C' });
    expect(newest).toMatchObject({
      locationId: hub!.id,
      startMs: NOON_MS + 2_000,
      bandHz: [10, 1000],
      flags: [],
    });
    expect(newest.axes).toHaveLength(3);
    expect(newest.axes[2]).toMatchObject({ axis: 'z', velocityRmsMmPerS: null, kurtosis: 3 });
    expect(newest).not.toHaveProperty('nodeId');

    // The sensor moves: its reading stays with the place where it was measured.
    await call('PUT', `/api/locations/${foot!.id}/mount`, { mount: { nodeId: NODE_A, sensor: 0 } });
    const [fan] = (await call('GET', '/api/assets')).json;
    expect(fan.locations.map((location: Location) => [location.mount, location.newest])).toEqual([
      [null, null],
      [{ nodeId: NODE_A, sensor: 0 }, null],
    ]);
    expect((await call('PUT', `/api/locations/${foot!.id}/mount`, { mount: null })).json.mount).toBeNull();
    expect(Value.Check(Asset, fan)).toBe(true);
  });

  it('show no highest axis and no zone while nothing is valid', async () => {
    const { call, store, readings, time } = await signedIn();
    store.nodes.add(NODE_A, 'a');
    const asset = store.assets.add({ name: 'Fan', kind: 'machine', machineClass: 'I' });
    const hub = store.assets.addLocation(asset.id, HUB);
    store.mounts.put(hub.id, { nodeId: NODE_A, sensor: 0 });
    time.advance(3_000);
    const settling = reading(NODE_A, 0, NOON_MS + 1_000);
    for (const axis of settling.axes) axis.velocityRmsMmPerS = null;
    await readings.add({ ...settling, flags: ['settling'] });
    const { newest } = (await call('GET', `/api/locations/${hub.id}`)).json;
    expect(newest.highest).toBeNull();
    expect(newest.flags).toEqual(['settling']);
    expect(Value.Check(LocationReading, newest)).toBe(true);
  });
});

describe('nodes', () => {
  it('are let in with a password shown once, listed with their sensors, and revoked', async () => {
    const { call, store, readings } = await signedIn();
    const added = await call('POST', '/api/nodes', { nodeId: NODE_A, label: 'Rear' });
    expect(added.json).toEqual({ nodeId: NODE_A, password: expect.stringMatching(/^[0-9a-f]{32}$/) });
    expect((await call('POST', '/api/nodes', { nodeId: NODE_A, label: 'x' })).json.code).toBe('NODE_EXISTS');
    await call('POST', '/api/nodes', { nodeId: NODE_B, label: 'Front' });

    const asset = store.assets.add({ name: 'Fan', kind: 'machine', machineClass: 'I' });
    const hub = store.assets.addLocation(asset.id, HUB);
    store.mounts.put(hub.id, { nodeId: NODE_A, sensor: 3 });
    await readings.add(reading(NODE_A, 1, NOON_MS), reading(NODE_A, 3, NOON_MS + 4_000));
    const list = (await call('GET', '/api/nodes')).json;
    expect(list).toMatchObject([
      { nodeId: NODE_B, label: 'Front', sensors: [], lastSeenMs: null },
      {
        nodeId: NODE_A,
        label: 'Rear',
        sensors: [
          { sensor: 1, locationId: null },
          { sensor: 3, locationId: hub.id },
        ],
        lastSeenMs: NOON_MS + 5_000,
      },
    ]);
    expect(list.every((node: unknown) => Value.Check(NodeSummary, node))).toBe(true);

    expect((await call('DELETE', `/api/nodes/${NODE_A}`)).status).toBe(200);
    expect((await call('DELETE', `/api/nodes/${NODE_A}`)).json.code).toBe('NODE_NOT_FOUND');
    expect((await call('GET', '/api/nodes')).json).toHaveLength(1);
  });
});
