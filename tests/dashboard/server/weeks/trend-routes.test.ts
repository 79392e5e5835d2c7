import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import { LocationTrend } from '../../../../dashboard/contract/weeks.ts';
import { reading } from '../stored-readings.ts';
import { NODE_A, NODE_B, NOON_MS, testApp } from '../support.ts';
import { addPastRuns, busWithSensor, DAY_MS, FIRST_RUN_MS, scatter, workOut } from './past-runs.ts';

/** Sixty runs over twenty weeks at two speeds; the level at 74 km/h is 1.6 times that at 54. */
const mixedRuns = (growth: (day: number) => number, slowOnlyFrom = Number.POSITIVE_INFINITY) =>
  Array.from({ length: 60 }, (_, k) => {
    const day = Math.floor((k * 7) / 3);
    // A slow route at first, then a fast one.
    const isFast = k % 5 === 0 || (k > 30 && k % 5 !== 1);
    const speedKmH = isFast && day < slowOnlyFrom ? 74 : 54;
    return { day, speedKmH, velocityRmsMmPerS: (speedKmH === 74 ? 1.6 : 1) * growth(day) * scatter(k) };
  });

async function station(growth: (day: number) => number) {
  const test = await testApp();
  const { cookie } = await test.as('technician');
  const { asset, place } = busWithSensor(test);
  const runIds = await addPastRuns(test, asset.id, mixedRuns(growth));
  await workOut(test);
  const trend = async (query = '') => {
    const { json, status } = await test.call('GET', `/api/trends?locationIds=${place.id}${query}`, {
      cookie,
    });
    expect(status, JSON.stringify(json)).toBe(200);
    expect(Value.Check(LocationTrend, json.trends[0])).toBe(true);
    return json.trends[0] as LocationTrend;
  };
  const send = (method: 'POST' | 'PUT' | 'DELETE', url: string, body?: unknown) =>
    test.call(method, url, { cookie, body });
  return { ...test, asset, place, runIds, trend, send, cookie };
}

describe('the trend of a location over weeks', () => {
  it('compares like with like: faster driving later is no rise', async () => {
    const { trend } = await station(() => 1);
    const whole = await trend();
    expect(whole.basis).toBe('ratio');
    expect(whole.points.length).toBeGreaterThan(45);
    expect(whole.baseline.known).toBe(true);
    expect(whole.alerts.find(({ about }) => about === 'change')).toMatchObject({ raised: false });
    // All runs thrown together would show a rise where none is.
    const unlike = mixedRuns(() => 1);
    const mean = (runs: typeof unlike) =>
      runs.reduce((sum, run) => sum + run.velocityRmsMmPerS, 0) / runs.length;
    expect(mean(unlike.slice(31)) / mean(unlike.slice(0, 30))).toBeGreaterThan(1.25);
    expect(whole.sentences[0]).toMatch(/no more than the own scatter explains/);
    expect(whole.sensorUncertainty).toBeNull();
  });

  it('shows a rise with slope, interval, significance and alert, and foresees a limit', async () => {
    const growth = (day: number) => (day < 60 ? 1 : 1 + ((day - 60) / 80) ** 2);
    const { trend } = await station(growth);
    const whole = await trend('&limit=2.4');
    expect(whole.line!.lowPerWeek).toBeGreaterThan(0);
    expect(whole.line!.highPerWeek).toBeGreaterThan(whole.line!.perWeek);
    expect(whole.test!.pValue).toBeLessThan(0.01);
    const alert = whole.alerts.find(({ about }) => about === 'change')!;
    expect(alert.raised).toBe(true);
    expect(alert.falseAlarmsPerYear).toBeLessThanOrEqual(0.11);
    // It has grown by the least change of 2 dB at about day 101.
    expect((alert.sinceMs! - FIRST_RUN_MS) / DAY_MS).toBeGreaterThan(95);
    expect((alert.sinceMs! - FIRST_RUN_MS) / DAY_MS).toBeLessThan(115);
    expect(whole.forecast?.kind).toBe('range');
    expect(whole.sentences.join(' ')).toMatch(/rises by .* a week/);
    const slow = await trend(`&bin=${encodeURIComponent('50-60 km/h')}`);
    expect(slow).toMatchObject({ basis: 'level', unit: 'mm/s' });
    expect(slow.points.every(({ low, high, value }) => low! <= value && value <= high!)).toBe(true);
    expect(slow.points.at(-1)!.value).toBeGreaterThan(1.7);
  });

  it('is shown for the span asked for, baseline and alerts standing on all of it', async () => {
    const { trend } = await station((day) => (day < 60 ? 1 : 1 + (day - 60) / 80));
    const [fromMs, toMs] = [FIRST_RUN_MS, FIRST_RUN_MS + 50 * DAY_MS];
    const early = await trend(`&fromMs=${fromMs}&toMs=${toMs}`);
    expect(early.line!.toMs).toBeLessThanOrEqual(toMs);
    expect(early.test!.pValue).toBeGreaterThan(0.05);
    expect(early.alerts[0]!.raised).toBe(true);
  });

  it('begins a new stretch at a repair and at a sensor that was moved, and does not compare across', async () => {
    const { trend, send, asset, place, store } = await station((day) => (day < 100 ? 1 : 0.5));
    const repairMs = FIRST_RUN_MS + 100 * DAY_MS - 3_600_000;
    const noted = { atMs: repairMs, kind: 'repair', note: 'Output bearing replaced' };
    const event = await send('POST', `/api/assets/${asset.id}/events`, noted);
    expect(event.json).toMatchObject({ ...noted, by: 'technician person' });
    const after = await trend();
    expect(after.stretches).toEqual([{ stretch: expect.any(Number), fromMs: repairMs, reason: 'repair' }]);
    expect(after.events).toHaveLength(1);
    const newest = after.points.filter(({ stretch }) => stretch === after.points.at(-1)!.stretch);
    expect(newest.every(({ timeMs }) => timeMs > repairMs)).toBe(true);
    // Each stretch against its own baseline: about 1 on both sides.
    for (const { value } of after.points) expect(Math.abs(value - 1)).toBeLessThan(0.2);
    const gone = await send('DELETE', `/api/assets/${asset.id}/events/${event.json.id}`);
    expect(gone.json).toEqual({ done: true });
    expect((await trend()).stretches).toEqual([]);

    // The clamp was set again just now: what is normal is not known until enough runs have been made.
    store.stretches.confirm(place.id);
    const anew = await trend();
    expect(anew.stretches.map(({ reason }) => reason)).toEqual(['mount set again']);
    expect(anew.baseline).toEqual({ known: false, runsMissing: 8, reason: 'too-few-runs' });
    expect(anew.points.length).toBeGreaterThan(40);
  });

  it('leaves a run out when a person says so, and says why', async () => {
    const { trend, send, runIds } = await station(() => 1);
    const before = await trend();
    expect((await send('PUT', `/api/runs/${runIds[40]}/trend`, { leftOut: 'trailer behind' })).status).toBe(
      200,
    );
    const after = await trend();
    expect(after.points).toHaveLength(before.points.length - 1);
    expect(after.leftOut).toEqual([expect.objectContaining({ runId: runIds[40], reason: 'trailer behind' })]);
    await send('PUT', `/api/runs/${runIds[40]}/trend`, { leftOut: null });
    expect((await trend()).leftOut).toEqual([]);
  });

  it('says what is missing before a baseline, and takes runs without a known speed for nothing', async () => {
    const test = await testApp();
    const { cookie } = await test.as('technician');
    const { asset, place } = busWithSensor(test);
    const get = async () =>
      (await test.call('GET', `/api/trends?locationIds=${place.id}`, { cookie })).json
        .trends[0] as LocationTrend;
    await addPastRuns(test, asset.id, [{ day: 0, velocityRmsMmPerS: 1, speedKmH: null }]);
    await workOut(test);
    expect((await get()).sentences[0]).toMatch(/when its speed is recorded/);
    await addPastRuns(
      test,
      asset.id,
      [1, 2, 3].map((day) => ({ day, velocityRmsMmPerS: 1, speedKmH: 54 })),
    );
    await workOut(test);
    const some = await get();
    expect(some.baseline).toEqual({ known: false, runsMissing: 8, reason: 'too-few-runs' });
    expect(some.bins).toEqual([{ bin: '50-60 km/h', runs: 3, runsMissing: 5 }]);
  });

  it('of several locations comes at once, with peers named', async () => {
    const test = await testApp();
    const { cookie } = await test.as('technician');
    const one = busWithSensor(test, 'Bus 1', NODE_A);
    const two = busWithSensor(test, 'Bus 2', NODE_B);
    const ids = `${one.place.id},${two.place.id}`;
    const { json } = await test.call('GET', `/api/trends?locationIds=${ids}`, { cookie });
    expect(json.trends.map((trend: LocationTrend) => trend.assetName)).toEqual(['Bus 1', 'Bus 2']);
    expect(json.trends[0].peers).toEqual([{ locationId: two.place.id, assetName: 'Bus 2' }]);
    expect((await test.call('GET', '/api/trends?locationIds=99', { cookie })).json.code).toBe(
      'LOCATION_NOT_FOUND',
    );
  });
});

describe('the trend of a machine', () => {
  it('is made of days, against zones and a quarter of the B/C boundary', async () => {
    const test = await testApp();
    const { cookie } = await test.as('technician');
    const { store } = test;
    store.nodes.add(NODE_A, 'fan');
    const asset = store.assets.add({ name: 'Extraction fan', kind: 'machine', machineClass: 'I' });
    const place = store.assets.addLocation(asset.id, { name: 'Drive end', component: 'Motor' });
    const firstDayMs = Date.UTC(2024, 10, 1);
    store.mounts.put(place.id, { nodeId: NODE_A, sensor: 0 }, firstDayMs);
    const level = (day: number) => (day < 30 ? 1.2 : 1.2 + 0.02 * (day - 30)) * scatter(day);
    // From 1 November to 1 January; on Sundays it stands.
    for (let day = 0; firstDayMs + day * DAY_MS < NOON_MS - DAY_MS; day++) {
      const stands = day % 7 === 2;
      const seconds = Array.from({ length: 60 }, (_, k) => firstDayMs + day * DAY_MS + 36e6 + k * 1000);
      await test.readings.add(
        ...seconds.map((startMs) => reading(NODE_A, 0, startMs, stands ? 0.02 : level(day))),
      );
    }
    for (let round = 0; round < 12; round++) await workOut(test);
    const { json } = await test.call('GET', `/api/trends?locationIds=${place.id}`, { cookie });
    const trend = json.trends[0] as LocationTrend;
    expect(trend).toMatchObject({ basis: 'level', unit: 'mm/s', bin: 'any', limit: 4.5 });
    // Twice the root of 5, 3, 2 and 2 % in squares, over root 3: limits of an unchecked sensor as mounted.
    expect(trend.sensorUncertainty).toBeCloseTo(0.0748, 4);
    expect(trend.sentences[0]).toMatch(/ mm\/s \(± 0\.1\d\d mm\/s by the sensor\), /);
    expect(trend.points.length).toBeGreaterThan(50);
    expect(trend.leftOut.map(({ reason }) => reason)).toContain('not-running');
    const about = trend.alerts.map((alert) => alert.about);
    expect(about).toEqual(['change', 'B/C', 'C/D']);
    // A quarter of 1.8 mm/s above the baseline of 1.2 is 1.65 mm/s.
    expect(trend.alerts[0]!.raiseAbove).toBeGreaterThan(1.6);
    expect(trend.alerts[0]!.raiseAbove).toBeLessThan(1.72);
    expect(trend.alerts.map(({ raised }) => raised)).toEqual([true, false, false]);
  });
});
