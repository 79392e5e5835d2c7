import { describe, expect, it } from 'vitest';
import {
  type DuePlan,
  type HeardNode,
  planCauses,
  quietNodes,
} from '../../../../dashboard/server/alerts/silence-causes.ts';
import { soundHealth } from '../rig-support.ts';
import { NODE_A, testApp } from '../support.ts';
import { engineOn } from './support.ts';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;
const settings = { machineQuietMinutes: 15, vehicleQuietHours: 48, namesInMessages: true };

const node = (change: Partial<HeardNode> = {}): HeardNode => ({
  nodeId: NODE_A,
  assetId: 1,
  assetKind: 'machine',
  isOnRun: false,
  mountedMs: 0,
  lastHeardMs: 0,
  health: null,
  ...change,
});
const isQuiet = (nowMs: number, change: Partial<HeardNode> = {}, listeningSinceMs = 0) =>
  quietNodes([node(change)], settings, listeningSinceMs, nowMs).length > 0;

describe('a node', () => {
  it('on a machine, or during a run, is silent after minutes; on a vehicle at rest after days', () => {
    expect(isQuiet(15 * MINUTE_MS)).toBe(false);
    expect(isQuiet(15 * MINUTE_MS + 1)).toBe(true);
    expect(isQuiet(16 * MINUTE_MS, { assetKind: 'vehicle', isOnRun: true })).toBe(true);
    expect(isQuiet(47 * HOUR_MS, { assetKind: 'vehicle' })).toBe(false);
    expect(isQuiet(49 * HOUR_MS, { assetKind: 'vehicle' })).toBe(true);
  });

  it('that announces a long sleep has three times that; a recording that ended is no node that went', () => {
    const health = soundHealth(NODE_A, 0);
    const asleep = { ...health, status: { ...health.status!, nextStatusWithinS: 3600 } };
    expect(isQuiet(2.9 * HOUR_MS, { health: asleep })).toBe(false);
    expect(isQuiet(3.1 * HOUR_MS, { health: asleep })).toBe(true);
    const replay = { ...health, clock: { ...health.clock, source: 'replay' as const } };
    expect(isQuiet(1000 * HOUR_MS, { health: replay })).toBe(false);
  });

  it('that was never heard counts from when it was mounted; the time in which the station was away counts for none', () => {
    expect(isQuiet(16 * MINUTE_MS, { lastHeardMs: null, mountedMs: 5 * MINUTE_MS })).toBe(false);
    expect(isQuiet(21 * MINUTE_MS, { lastHeardMs: null, mountedMs: 5 * MINUTE_MS })).toBe(true);
    expect(isQuiet(100 * MINUTE_MS, {}, 90 * MINUTE_MS)).toBe(false);
    expect(isQuiet(106 * MINUTE_MS, {}, 90 * MINUTE_MS)).toBe(true);
  });
});

const plan = (change: Partial<DuePlan> = {}): DuePlan => ({
  id: 4,
  assetId: 1,
  locationId: 2,
  everyDays: 7,
  lastCountedMs: 0,
  nextDueMs: 7 * DAY_MS,
  reached: [],
  ...change,
});

describe('a watch plan', () => {
  it('is overdue from its date on, and says so once for each limit reached', () => {
    expect(planCauses([plan()], 7 * DAY_MS)).toEqual([]);
    expect(planCauses([plan()], 7 * DAY_MS + 1)).toMatchObject([
      { key: 'plan/4/overdue', about: 'run-overdue', limit: 7, unit: 'd', sinceMs: 7 * DAY_MS },
    ]);
    const both = planCauses([plan({ reached: ['One.', 'Two.'] })], 8 * DAY_MS);
    expect(both.map(({ key }) => key)).toEqual(['plan/4/overdue', 'plan/4/reached']);
    expect(both[1]!.detail).toBe('One.');
  });
});

async function fan() {
  const test = await testApp();
  const { store, time } = test;
  store.nodes.add(NODE_A, 'Fan board');
  const asset = store.assets.add({ name: 'Extraction fan', kind: 'machine', machineClass: 'I' });
  const place = store.assets.addLocation(asset.id, { name: 'Drive end', component: 'Motor' });
  store.mounts.put(place.id, { nodeId: NODE_A, sensor: 0 }, time.now() - DAY_MS);
  const all = () => store.alerts.list({ state: 'all', limit: 10 });
  return { ...test, asset, place, all };
}

describe('the engine', () => {
  it('raises one alert of a silent node, keeps it over a restart, and clears it when it is heard', async () => {
    const test = await fan();
    const { time, all } = test;
    let heardMs = time.now();
    let isListening = true;
    const deps = { lastHeardMs: () => heardMs, isListening: () => isListening };
    let engine = engineOn(test, deps);
    const pass = async (minutes: number) => {
      for (let minute = 0; minute < minutes; minute++) {
        time.advance(MINUTE_MS);
        await engine.settle();
      }
    };
    await pass(14);
    expect(all()).toEqual([]);
    await pass(10);
    expect(all()).toMatchObject([{ about: 'node-quiet', nodeId: NODE_A, clearedMs: null, sinceMs: heardMs }]);
    // The station starts anew: it has not listened for long, but nothing was heard of the node either.
    await engine.stop();
    engine = engineOn(test, deps);
    await pass(3);
    expect(all()).toMatchObject([{ clearedMs: null }]);
    heardMs = time.now();
    await pass(1);
    expect(all()).toMatchObject([{ clearedWhy: 'heard-again' }]);
    // While the broker is away, nobody can be heard.
    isListening = false;
    await pass(60);
    isListening = true;
    await pass(14);
    expect(all()).toHaveLength(1);
    await pass(3);
    expect(all()).toHaveLength(2);
    test.store.nodes.revoke(NODE_A);
    await pass(1);
    expect(all()[0]).toMatchObject({ clearedWhy: 'no-longer-due' });
    await engine.stop();
  });

  it('lets a reached limit of a plan stand until people end the plan, and an overdue run until it is made', async () => {
    const test = await fan();
    const { time, all, asset } = test;
    const own = { assetId: asset.id, locationId: null, nextDueMs: time.now() + DAY_MS };
    let plans = [plan({ ...own, reached: ['Velocity RMS has reached 4.5 mm/s.'] })];
    const engine = engineOn(test, { duePlans: () => plans });
    const pass = async () => {
      time.advance(MINUTE_MS);
      await engine.settle();
      return all()
        .filter(({ clearedMs }) => clearedMs === null)
        .map(({ about }) => about);
    };
    expect(await pass()).toEqual(['stop-limit']);
    plans = [plan({ ...own, nextDueMs: time.now() - DAY_MS })];
    expect(await pass()).toEqual(['run-overdue', 'stop-limit']);
    plans = [plan({ ...own, nextDueMs: time.now() + DAY_MS })];
    expect(await pass()).toEqual(['stop-limit']);
    plans = [];
    expect(await pass()).toEqual([]);
    expect(all()).toHaveLength(2);
    await engine.stop();
  });
});
