import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import {
  OpenWatchPlan,
  WatchPlan,
  type WatchPlanRequest,
  WatchSuggestion,
} from '../../../../dashboard/contract/watch-plans.ts';
import { openWatchPlans } from '../../../../dashboard/server/deciding/watch-due.ts';
import { reading } from '../stored-readings.ts';
import { NODE_A, NOON_MS, testApp } from '../support.ts';
import { addPastRuns, busWithSensor, DAY_MS, scatter, workOut } from '../weeks/past-runs.ts';

const plan = (locationId: number | null, more: Partial<WatchPlanRequest> = {}): WatchPlanRequest => ({
  locationId,
  everyDays: 14,
  everyReason: 'agreed',
  conditions: { kind: 'road', manoeuvres: [], bins: [], speed: '50 to 60 km/h', load: 'empty', note: '' },
  stopLimits: [],
  stopSigns: [{ text: 'Oil at the flange', source: 'own' }],
  tell: 'Ines by phone',
  agreedBy: 'Owner and Ines',
  ...more,
});

async function station() {
  const test = await testApp();
  const { cookie } = await test.as('technician');
  const { asset, place } = busWithSensor(test);
  const send = (method: 'GET' | 'POST', url: string, body?: unknown) =>
    test.call(method, url, { cookie, body });
  const begin = async (request: WatchPlanRequest): Promise<WatchPlan> => {
    const { status, json } = await send('POST', `/api/assets/${asset.id}/watch-plans`, request);
    expect(status, JSON.stringify(json)).toBe(200);
    expect(Value.Check(WatchPlan, json)).toBe(true);
    return json;
  };
  /** A run `days` after noon of the test's clock, with the clock at its end. */
  const runAfter = async (days: number, velocityRmsMmPerS = 1, speedKmH: number | null = 54) => {
    const [id] = await addPastRuns(test, asset.id, [{ day: 140 + days, velocityRmsMmPerS, speedKmH }]);
    test.time.advance(NOON_MS + days * DAY_MS + 60_000 - test.time.now());
    await workOut(test);
    return id!;
  };
  const due = () => openWatchPlans(test.store, test.time.now())[0]!;
  return { ...test, asset, place, cookie, send, begin, runAfter, due };
}

describe('a watch plan', () => {
  it('is due its interval after its begin, then after each run made as agreed', async () => {
    const { begin, place, runAfter, due, time } = await station();
    const begun = await begin(plan(place.id));
    expect(begun).toMatchObject({
      startedBy: 'technician person',
      nextDueMs: NOON_MS + 14 * DAY_MS,
      overdueMs: 0,
      endedMs: null,
      lastCountedMs: null,
    });
    await runAfter(3);
    // The run lasts 20 s.
    expect(due().lastCountedMs).toBe(NOON_MS + 3 * DAY_MS + 20_000);
    expect(due().nextDueMs).toBe(NOON_MS + 17 * DAY_MS + 20_000);
    time.advance(19 * DAY_MS);
    expect(due().overdueMs / DAY_MS).toBeCloseTo(5, 2);
  });

  it('does not count runs without a speed, of another kind, in other conditions, left out or broken off', async () => {
    const { begin, place, runAfter, due, store, send } = await station();
    await begin(
      plan(place.id, {
        conditions: { kind: 'road', manoeuvres: [], bins: ['50-60 km/h'], speed: '', load: '', note: '' },
      }),
    );
    await runAfter(1, 1, null);
    await runAfter(2, 1, 74);
    expect(due().lastCountedMs).toBeNull();
    const id = await runAfter(3);
    expect(due().lastCountedMs).toBe(NOON_MS + 3 * DAY_MS + 20_000);
    await send('PUT' as 'POST', `/api/runs/${id}/trend`, { leftOut: 'trailer behind' });
    expect(due().lastCountedMs).toBeNull();
    await send('PUT' as 'POST', `/api/runs/${id}/trend`, { leftOut: null });
    expect(due().lastCountedMs).not.toBeNull();
    store.runs.change(id, { outcome: 'aborted' });
    expect(due().lastCountedMs).toBeNull();
  });

  it('counts the days of a machine on which it ran, not those on which it stood', async () => {
    const test = await testApp();
    const { cookie } = await test.as('technician');
    const { store } = test;
    store.nodes.add(NODE_A, 'fan');
    const asset = store.assets.add({ name: 'Extraction fan', kind: 'machine', machineClass: 'I' });
    const place = store.assets.addLocation(asset.id, { name: 'Drive end', component: 'Motor' });
    store.mounts.put(place.id, { nodeId: NODE_A, sensor: 0 }, NOON_MS - 31 * DAY_MS);
    for (let day = -30; day < 0; day++) {
      const stands = day > -6;
      const beginMs = NOON_MS + day * DAY_MS;
      await test.readings.add(
        ...Array.from({ length: 60 }, (_, k) =>
          reading(NODE_A, 0, beginMs + k * 1000, (stands ? 0.02 : 1.2) * scatter(day + 40)),
        ),
      );
    }
    for (let round = 0; round < 8; round++) await workOut(test);
    store.watchPlans.begin(
      asset.id,
      plan(null, {
        everyDays: 2,
        conditions: { kind: 'bench', manoeuvres: [], bins: [], speed: '', load: '', note: '' },
      }),
      'Kim',
    );
    // As if it had been agreed a month ago.
    const open = store.watchPlans.open()[0]!;
    const { watchPlanDue } = await import('../../../../dashboard/server/deciding/watch-due.ts');
    const due = watchPlanDue(store, { ...open, startedMs: NOON_MS - 40 * DAY_MS }, NOON_MS);
    const lastDayRun = Math.floor((NOON_MS - 6 * DAY_MS) / DAY_MS) * DAY_MS;
    expect(due.lastCountedMs).toBe(lastDayRun + DAY_MS);
    expect(due.overdueMs / DAY_MS).toBeCloseTo(3.5, 5);
    expect((await test.call('GET', '/api/watch-plans', { cookie })).json).toHaveLength(1);
  });

  it('gives its limit to the trend, says when the runs have reached it, and shows that on the fleet list', async () => {
    const { begin, place, asset, send, runAfter, test } = await station().then((one) => ({
      ...one,
      test: one,
    }));
    await addPastRuns(
      test,
      asset.id,
      Array.from({ length: 12 }, (_, k) => ({ day: 100 + k, velocityRmsMmPerS: scatter(k), speedKmH: 54 })),
    );
    await workOut(test);
    const limit = {
      locationId: place.id,
      value: 'velocityRmsMmPerS' as const,
      basis: 'ratio' as const,
      bin: null,
    };
    const begun = await begin(plan(place.id, { stopLimits: [{ ...limit, limit: 1.5 }] }));
    expect(begun.standing[0]).toMatchObject({ reached: false });
    expect(begun.standing[0]!.sentence).toMatch(
      /^velocity RMS at Output bearing: stop at 1.50 times its baseline; the last three lie at (0.9|1.0)\d times its baseline: not reached.$/,
    );
    const trend = await send('GET', `/api/trends?locationIds=${place.id}`);
    expect(trend.json.trends[0].limit).toBe(1.5);
    await runAfter(1, 1.8);
    const after = async () => (await send('GET', '/api/watch-plans')).json[0] as OpenWatchPlan;
    expect((await after()).reached).toEqual([]);
    const [shown] = (await send('GET', `/api/assets/${asset.id}/watch-plans`)).json as WatchPlan[];
    expect(shown!.standing[0]!.sentence).toMatch(/The newest alone lies above it: measure again at once\.$/);
    await runAfter(2, 1.8);
    const reached = await after();
    expect(Value.Check(OpenWatchPlan, reached)).toBe(true);
    expect(reached.reached).toEqual([expect.stringMatching(/: reached\.$/)]);
  });

  it('never takes "not known" for "not reached"', async () => {
    const { begin, place, runAfter, send } = await station();
    const limit = {
      locationId: place.id,
      value: 'velocityRmsMmPerS' as const,
      basis: 'ratio' as const,
      bin: null,
    };
    const begun = await begin(plan(place.id, { stopLimits: [{ ...limit, limit: 1.5 }] }));
    expect(begun.standing[0]).toMatchObject({ now: null, reached: null });
    await runAfter(1);
    const [plans] = (await send('GET', '/api/watch-plans')).json;
    expect(plans.reached).toEqual([]);
  });

  it('gives way to a newer one for the same place, and ends with a reason', async () => {
    const { begin, place, asset, send } = await station();
    const first = await begin(plan(place.id));
    await begin(plan(null));
    const second = await begin(plan(place.id, { everyDays: 7 }));
    const list = (await send('GET', `/api/assets/${asset.id}/watch-plans`)).json as WatchPlan[];
    expect(list.map(({ id, endReason }) => [id, endReason])).toEqual([
      [second.id, null],
      [expect.any(Number), null],
      [first.id, 'replaced by a newer plan'],
    ]);
    const ended = await send('POST', `/api/watch-plans/${second.id}/end`, { reason: 'Bearing replaced' });
    expect(ended.json).toMatchObject({
      endReason: 'Bearing replaced',
      endedBy: 'technician person',
      endedMs: NOON_MS,
      nextDueMs: null,
    });
    // Said once is said: the reason stands.
    await send('POST', `/api/watch-plans/${second.id}/end`, { reason: 'other' });
    const again = (await send('GET', `/api/assets/${asset.id}/watch-plans`)).json as WatchPlan[];
    expect(again[0]!.endReason).toBe('Bearing replaced');
    expect((await send('GET', '/api/watch-plans')).json).toHaveLength(1);
  });

  it('is refused for a location of another asset, and without who is told', async () => {
    const { asset, store, place, send } = await station();
    const other = store.assets.add({ name: 'Bus 9', kind: 'vehicle', machineClass: 'II' });
    const url = `/api/assets/${other.id}/watch-plans`;
    expect((await send('POST', url, plan(place.id))).json).toMatchObject({
      code: 'LOCATION_NOT_FOUND',
      field: 'locationId',
    });
    const own = `/api/assets/${asset.id}/watch-plans`;
    expect((await send('POST', own, plan(place.id, { tell: ' ' }))).json).toMatchObject({ field: 'tell' });
    const limit = { locationId: 99, value: 'velocityRmsMmPerS', basis: 'ratio', bin: null, limit: 2 };
    const wrong = await send('POST', own, { ...plan(null), stopLimits: [limit] });
    expect(wrong.json.code).toBe('LOCATION_NOT_FOUND');
  });
});

describe('the suggestion for a watch plan', () => {
  async function suggested(growth: (day: number) => number, query = '') {
    const one = await station();
    await addPastRuns(
      one,
      one.asset.id,
      Array.from({ length: 60 }, (_, k) => {
        const day = Math.floor((k * 7) / 3);
        return { day, speedKmH: 54, velocityRmsMmPerS: growth(day) * scatter(k) };
      }),
    );
    await workOut(one);
    const url = `/api/assets/${one.asset.id}/watch-suggestion?locationId=${one.place.id}${query}`;
    const { json } = await one.send('GET', url);
    expect(Value.Check(WatchSuggestion, json), JSON.stringify(json)).toBe(true);
    return { ...one, json: json as WatchSuggestion };
  }

  it('is the longest agreed on where nothing grows', async () => {
    const { json, place } = await suggested(() => 1, '&longestDays=20');
    expect(json.everyDays).toBe(20);
    expect(json.reason).toBe(
      'Nothing measured at Output bearing asks for less than the longest interval agreed on.',
    );
    expect(json.bins).toEqual(['50-60 km/h']);
    expect(json.stopLimits).toEqual([
      { locationId: place.id, value: 'velocityRmsMmPerS', basis: 'ratio', bin: null, limit: 2 },
    ]);
    expect(json.caution).toBeNull();
  });

  it('leaves time for three measurements before the earliest date of the forecast', async () => {
    const { json, send, place } = await suggested((day) => (day < 60 ? 1 : 1 + ((day - 60) / 95) ** 2));
    const trend = (await send('GET', `/api/trends?locationIds=${place.id}`)).json.trends[0];
    expect(trend.forecast.kind).toBe('range');
    const lastMs = trend.points.at(-1).timeMs;
    const third = Math.floor((trend.forecast.fromMs - lastMs) / 3 / DAY_MS);
    expect(json.everyDays).toBe(Math.max(1, third));
    expect(json.reason).toMatch(/may reach its stop limit as early as|shorter interval than the shortest/);
  });

  it('says not to wait at a wheel bearing, and goes on saying so while a plan is open', async () => {
    const { store, asset, send, begin } = await station();
    const place = store.assets.addLocation(asset.id, { name: 'Left wheel bearing', component: 'Rear axle' });
    const { json } = await send('GET', `/api/assets/${asset.id}/watch-suggestion?locationId=${place.id}`);
    expect(json.caution).toMatch(/^Do not put this off\..*licensed technician\.$/);
    expect((await begin(plan(place.id))).caution).toBe(json.caution);
    expect((await begin(plan(null))).caution).toBeNull();
  });
});
