import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import { LocationReading, Trend } from '../../../dashboard/contract/model.ts';
import { reading } from './memory-readings.ts';
import { NODE_A, NODE_B, NOON_MS, testApp } from './support.ts';

const at = (second: number) => NOON_MS + 1000 * second;

/** A hub that had sensor A for 100 s and sensor B from 150 s on; both sensors measure all the time. */
async function station() {
  const test = await testApp();
  const { store, readings } = test;
  const { cookie } = await test.as('technician');
  store.nodes.add(NODE_A, 'a');
  store.nodes.add(NODE_B, 'b');
  const asset = store.assets.add({ name: 'Fan', kind: 'machine', machineClass: 'I' });
  const hub = store.assets.addLocation(asset.id, { name: 'Hub', component: 'Rotor' });
  store.mounts.put(hub.id, { nodeId: NODE_A, sensor: 0 }, at(0) + 300);
  test.time.advance(100_300);
  store.mounts.put(hub.id, null);
  store.mounts.put(hub.id, { nodeId: NODE_B, sensor: 2 }, at(150));
  for (let second = -20; second < 220; second++) {
    readings.all.push(reading(NODE_A, 0, at(second), 1), reading(NODE_B, 2, at(second), 4));
  }
  const get = (path: string) => test.call('GET', `/api/locations/${hub.id}/${path}`, { cookie });
  return { ...test, hub, get };
}

describe('the readings of a location', () => {
  it('come from the sensor that sat there at the time', async () => {
    const { get, hub } = await station();
    const found = (await get(`readings?fromMs=${at(-10)}&toMs=${at(200)}`)).json as LocationReading[];
    const seconds = found.map(({ startMs }) => (startMs - NOON_MS) / 1000);
    // Block 0 holds the mounting (at 0.3 s) and block 100 the taking off (at 100.3 s): they belong to nobody.
    const expected = [
      ...Array.from({ length: 99 }, (_, i) => i + 1),
      ...Array.from({ length: 50 }, (_, i) => 150 + i),
    ];
    expect(seconds).toEqual(expected);
    const levels = found.map(({ highest }) => highest!.velocityRmsMmPerS);
    expect(levels).toEqual(expected.map((second) => (second < 100 ? 1 : 4)));
    expect(found.every((one) => one.locationId === hub.id && Value.Check(LocationReading, one))).toBe(true);
  });

  it('are given for an hour at most', async () => {
    const { get } = await station();
    expect((await get(`readings?fromMs=0&toMs=${3_600_000}`)).json).toEqual([]);
    expect((await get(`readings?fromMs=0&toMs=${3_600_001}`)).json.code).toBe('SPAN_TOO_LONG');
    expect((await get('readings?fromMs=5&toMs=5')).json.code).toBe('SPAN_INVALID');
  });
});

describe('the trend of a location', () => {
  it('is put together from the sensors that sat there, and says which', async () => {
    const { get, readings } = await station();
    const url = `trend?fromMs=${at(0)}&toMs=${at(200)}&points=100&value=kurtosis&axis=y`;
    const trend = (await get(url)).json as Trend;
    expect(Value.Check(Trend, trend)).toBe(true);
    expect(trend.stretches).toEqual([
      { nodeId: NODE_A, sensor: 0, fromMs: at(1), toMs: at(100) },
      { nodeId: NODE_B, sensor: 2, fromMs: at(150), toMs: at(200) },
    ]);
    expect(readings.queries).toEqual([
      {
        sensor: { nodeId: NODE_A, sensor: 0 },
        value: 'kurtosis',
        axis: 'y',
        fromMs: at(1),
        toMs: at(100),
        maxPoints: 49,
      },
      {
        sensor: { nodeId: NODE_B, sensor: 2 },
        value: 'kurtosis',
        axis: 'y',
        fromMs: at(150),
        toMs: at(200),
        maxPoints: 25,
      },
    ]);
    expect(trend.timeMs).toEqual([...trend.timeMs].sort((a, b) => a - b));
    for (const column of ['value', 'minimum', 'maximum', 'count', 'flagged'] as const) {
      expect(trend[column]).toHaveLength(trend.timeMs.length);
    }
  });

  it('leads with the velocity of the highest axis, in 300 points', async () => {
    const { get, readings } = await station();
    await get(`trend?fromMs=${at(10)}&toMs=${at(50)}`);
    expect(readings.queries).toMatchObject([{ value: 'velocityRmsMmPerS', axis: 'highest', maxPoints: 300 }]);
  });

  it('is empty where no sensor was, and refused where there is no location', async () => {
    const { get, call, as } = await station();
    expect((await get(`trend?fromMs=0&toMs=1000`)).json).toMatchObject({
      timeMs: [],
      value: [],
      stretches: [],
    });
    expect((await get('trend?fromMs=9&toMs=8')).json.code).toBe('SPAN_INVALID');
    const lost = await call('GET', '/api/locations/999/trend?fromMs=0&toMs=9', await as('shop'));
    expect(lost.json.code).toBe('LOCATION_NOT_FOUND');
  });

  it('says so when the store of readings does not answer, and lists keep working', async () => {
    const { get, readings, call, as, logged } = await station();
    readings.fail = true;
    const failed = await get(`trend?fromMs=${at(0)}&toMs=${at(200)}`);
    expect(failed.status).toBe(503);
    expect(failed.json.code).toBe('READINGS_UNAVAILABLE');
    expect(failed.text).not.toContain('disk is gone');
    expect(logged.join()).toContain('disk is gone');
    expect((await call('GET', '/api/assets', await as('shop'))).status).toBe(200);
  });
});
