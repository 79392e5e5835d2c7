import { Value } from 'typebox/value';
import { describe, expect, it, vi } from 'vitest';
import { LocationReading, Trend } from '../../../dashboard/contract/model.ts';
import { damagedReadings, reading } from './stored-readings.ts';
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
  const seconds = Array.from({ length: 240 }, (_, i) => i - 20);
  await readings.add(
    ...seconds.flatMap((second) => [reading(NODE_A, 0, at(second), 1), reading(NODE_B, 2, at(second), 4)]),
  );
  const series = vi.spyOn(readings.reader, 'series');
  const get = (path: string) => test.call('GET', `/api/locations/${hub.id}/${path}`, { cookie });
  return { ...test, hub, get, series };
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
    const { get, series } = await station();
    const trend = (await get(`trend?fromMs=${at(0)}&toMs=${at(200)}&points=100&axis=y`)).json as Trend;
    expect(Value.Check(Trend, trend)).toBe(true);
    expect(trend.stretches).toEqual([
      { nodeId: NODE_A, sensor: 0, fromMs: at(1), toMs: at(100), beganBy: 'person' },
      { nodeId: NODE_B, sensor: 2, fromMs: at(150), toMs: at(200), beganBy: 'person' },
    ]);
    const slots = trend.timeMs.map((timeMs, i) => ({
      timeMs,
      value: trend.value[i]!,
      count: trend.count[i]!,
    }));
    const [early, late] = [slots.filter((s) => s.timeMs < at(125)), slots.filter((s) => s.timeMs >= at(125))];
    // Axis y measures half of what `reading` is told; no slot mixes the sensors, no reading is lost or doubled.
    for (const { value } of early) expect(value).toBeCloseTo(0.5, 6);
    for (const { value } of late) expect(value).toBeCloseTo(2, 6);
    expect(early.reduce((sum, { count }) => sum + count, 0)).toBe(99);
    expect(late.reduce((sum, { count }) => sum + count, 0)).toBe(50);
    expect(series.mock.calls.map(([query]) => query.maxPoints)).toEqual([49, 25]);
    expect(trend.timeMs).toEqual([...trend.timeMs].sort((a, b) => a - b));
    for (const column of ['minimum', 'maximum', 'flagged'] as const) {
      expect(trend[column]).toHaveLength(trend.timeMs.length);
    }
  });

  it('leads with the velocity of the highest axis, in 300 points', async () => {
    const { get, series } = await station();
    const trend = (await get(`trend?fromMs=${at(10)}&toMs=${at(50)}`)).json as Trend;
    expect(trend.count).toEqual(Array(40).fill(1));
    for (const value of trend.value) expect(value).toBeCloseTo(1, 6);
    expect(series.mock.calls).toMatchObject([
      [{ value: 'velocityRmsMmPerS', axis: 'highest', maxPoints: 300 }],
    ]);
    const kurtosis = (await get(`trend?fromMs=${at(10)}&toMs=${at(50)}&value=kurtosis&axis=z`)).json as Trend;
    expect(kurtosis.value).toEqual(Array(40).fill(3));
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
    const { call, as, logged, store } = await testApp({ deps: { readings: damagedReadings() } });
    const asset = store.assets.add({ name: 'Fan', kind: 'machine', machineClass: 'I' });
    const { id } = store.assets.addLocation(asset.id, { name: 'Hub', component: 'Rotor' });
    store.nodes.add(NODE_A, 'a');
    store.mounts.put(id, { nodeId: NODE_A, sensor: 0 });
    const url = `/api/locations/${id}/trend?fromMs=${at(0)}&toMs=${at(200)}`;
    const failed = await call('GET', url, await as('technician'));
    expect(failed.status).toBe(503);
    expect(failed.json.code).toBe('READINGS_UNAVAILABLE');
    expect(failed.text).not.toContain('.sqlite');
    expect(logged.join()).toContain('readings.sqlite');
    expect((await call('GET', '/api/assets', await as('shop'))).status).toBe(200);
  });
});
