import { describe, expect, it } from 'vitest';
import { testApp } from '../support.ts';
import { addPastRuns, busWithSensor, DAY_MS, FIRST_RUN_MS, scatter, workOut } from '../weeks/past-runs.ts';
import { engineOn } from './support.ts';

/** Sixty runs over twenty weeks: slow ones at first, later mostly fast ones, at which levels are 1.6 times as high. */
const mixedRuns = (growth: (day: number) => number, from = 0, to = 60) =>
  Array.from({ length: to - from }, (_, index) => {
    const k = from + index;
    const day = Math.floor((k * 7) / 3);
    const isFast = k % 5 === 0 || (k > 30 && k % 5 !== 1);
    const velocityRmsMmPerS = (isFast ? 1.6 : 1) * growth(day) * scatter(k);
    return { day, speedKmH: isFast ? 74 : 54, velocityRmsMmPerS };
  });
const wear = (day: number) => (day < 60 ? 1 : 1 + ((day - 60) / 80) ** 2);

async function station() {
  const test = await testApp();
  const { asset, place } = busWithSensor(test);
  const open = () => test.store.alerts.list({ state: 'open', limit: 100 });
  const all = () => test.store.alerts.list({ state: 'all', limit: 100 });
  const drive = async (growth: (day: number) => number, from = 0, to = 60) => {
    await addPastRuns(test, asset.id, mixedRuns(growth, from, to));
    await workOut(test);
  };
  return { ...test, asset, place, open, all, drive };
}

describe('alerts from trends', () => {
  it('a bus that wears raises one, with value, limit and expected false alarms; a restart raises no other', async () => {
    const test = await station();
    await test.drive(wear);
    const engine = engineOn(test);
    await engine.settle();
    const [alert, ...more] = test.open();
    expect(more).toEqual([]);
    expect(alert).toMatchObject({
      about: 'change',
      assetId: test.asset.id,
      locationId: test.place.id,
      quantity: 'velocityRmsMmPerS',
      unit: 'ratio',
      raisedMs: test.time.now(),
      clearedMs: null,
    });
    expect(alert!.value).toBeGreaterThan(alert!.limit!);
    // At least 2 dB above the baseline.
    expect(alert!.limit).toBeGreaterThan(1.25);
    // One in ten years for each of the two values watched.
    expect(alert!.falseAlarmsPerYear).toBeLessThanOrEqual(0.22);
    expect((alert!.sinceMs - FIRST_RUN_MS) / DAY_MS).toBeGreaterThan(90);
    await engine.settle();
    await engine.stop();
    const again = engineOn(test);
    await again.settle();
    await again.stop();
    expect(test.all()).toHaveLength(1);
    expect(test.store.alertOutbox.due(test.time.now(), 100).map(({ channel }) => channel)).toEqual([
      'mqtt',
      'points',
    ]);
  });

  it('unchanged levels raise none, although later runs are faster and louder', async () => {
    const test = await station();
    await test.drive(() => 1);
    const engine = engineOn(test);
    await engine.settle();
    await engine.stop();
    expect(test.all()).toEqual([]);
    const levels = mixedRuns(() => 1).map(({ velocityRmsMmPerS }) => velocityRmsMmPerS);
    const mean = (values: number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
    // Thrown together they would: the change is more than the 2 dB (26 %) that count as one.
    expect(mean(levels.slice(45)) / mean(levels.slice(0, 12))).toBeGreaterThan(1.26);
  });

  it('comes with the run that raises it, goes after three quiet ones, and comes again as another', async () => {
    const test = await station();
    const engine = engineOn(test);
    await test.drive(() => 1, 0, 30);
    await engine.settle();
    expect(test.all()).toEqual([]);
    await test.drive(() => 1.6, 30, 33);
    await engine.settle();
    expect(test.open()).toHaveLength(1);
    await test.drive(() => 1, 33, 37);
    await engine.settle();
    expect(test.open()).toEqual([]);
    expect(test.all()[0]).toMatchObject({ clearedWhy: 'normal-again', clearedMs: test.time.now() });
    await test.drive(() => 1.6, 37, 41);
    await engine.settle();
    expect(test.open()).toHaveLength(1);
    expect(test.all()).toHaveLength(2);
    await engine.stop();
  });

  it('ends with a repair, after which there is no baseline to compare with yet', async () => {
    const test = await station();
    await test.drive(wear);
    const engine = engineOn(test);
    await engine.settle();
    expect(test.open()).toHaveLength(1);
    const repair = { atMs: test.time.now(), kind: 'repair' as const, note: 'bearing replaced' };
    test.store.assetEvents.add(test.asset.id, repair, 'Kim');
    await engine.settle();
    expect(test.all()).toEqual([expect.objectContaining({ clearedWhy: 'no-longer-compared' })]);
    await engine.stop();
  });

  it('goes with its asset, and programs that keep it by MQTT are told', async () => {
    const test = await station();
    await test.drive(wear);
    const engine = engineOn(test);
    await engine.settle();
    const { id } = test.open()[0]!;
    test.store.assets.remove(test.asset.id);
    await engine.settle();
    await engine.stop();
    expect(test.all()).toEqual([]);
    expect(test.store.alertOutbox.due(test.time.now(), 100)).toEqual([
      expect.objectContaining({ alertId: id, event: 'removed', channel: 'mqtt', body: '' }),
      expect.objectContaining({ alertId: id, event: 'removed', channel: 'points' }),
    ]);
  });

  it('of a machine stand on a quarter of the zone boundary, and on the boundaries themselves', async () => {
    const test = await testApp();
    const { store } = test;
    const asset = store.assets.add({ name: 'Extraction fan', kind: 'machine', machineClass: 'I' });
    const place = store.assets.addLocation(asset.id, { name: 'Drive end', component: 'Motor' });
    const value = (median: number) => ({
      used: 60,
      leftOutShare: 0,
      median,
      mad: 0.01,
      medianSd: 0.01,
      refused: null,
    });
    for (let day = 0; day < 60; day++) {
      const fromMs = test.time.now() - (60 - day) * DAY_MS;
      const velocity = (day < 40 ? 1.2 : 2.4) * scatter(day);
      store.periodLevels.put(place.id, null, fromMs, [
        {
          locationId: place.id,
          runId: null,
          fromMs,
          toMs: fromMs + DAY_MS,
          bin: 'any',
          readings: 60,
          summaries: {
            velocityRmsMmPerS: value(velocity),
            accelerationRmsMPerS2: value(2 * scatter(day)),
            accelerationPeakMPerS2: value(6),
            crestFactor: value(3),
            kurtosis: value(3),
          },
        },
      ]);
    }
    const engine = engineOn(test);
    await engine.settle();
    await engine.stop();
    const open = store.alerts.list({ state: 'open', limit: 10 });
    // 1.2 mm/s and a quarter of 1.8 mm/s; class I goes from zone B to C at 1.8 mm/s (ISO 10816-1, secondary texts).
    expect(open.map(({ about, detail, unit }) => `${about} ${detail} ${unit}`).sort()).toEqual([
      'change  mm/s',
      'zone B/C mm/s',
    ]);
    const change = open.find(({ about }) => about === 'change')!;
    expect(change.limit).toBeGreaterThan(1.6);
    expect(change.limit).toBeLessThan(1.72);
    expect(open.find(({ about }) => about === 'zone')!.limit).toBe(1.8);
  });
});
