import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { openInfluxReader } from '../../../../collector/store/influx/influx-reader.ts';
import { openInfluxStore } from '../../../../collector/store/influx/influx-store.ts';
import { madeReading } from '../reading-store-contract.ts';
import { freshSite, influxOfEnvironment, NO_INFLUX } from './influx-server.ts';

const influx = influxOfEnvironment();
const folder = mkdtempSync(join(tmpdir(), 'clampline-fleet-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const open = (file: string, site: string) => openInfluxStore(join(folder, file), influx!, { site });
/** Node identities are unique among all sites, so a test in a lasting bucket takes new ones. */
const freshNode = () => freshSite().slice(1).padEnd(16, '0');

const name = influx === null ? `${NO_INFLUX}: ` : '';
describe.skipIf(influx === null)(`${name}several stations in one InfluxDB`, () => {
  it('are told apart by site, and read together', async () => {
    const [north, south] = [freshSite(), freshSite()];
    const [first, second] = [freshNode(), freshNode()];
    const stores = [await open('north.sqlite', north), await open('south.sqlite', south)];
    await stores[0]!.commit([madeReading(5, 1, { nodeId: first })], 1);
    await stores[1]!.commit(
      [madeReading(9, 2, { nodeId: second }), madeReading(7, 3, { nodeId: second, sensor: 1 })],
      1,
    );
    for (const store of stores) {
      expect(await store.delivered(20_000)).toBe(true);
      await store.close();
    }
    const own = await openInfluxReader(influx!, north).latest();
    expect(own.map((reading) => reading.nodeId)).toEqual([first]);
    const fleet = openInfluxReader(influx!, null);
    const bySite = await fleet.latestBySite();
    expect(bySite.get(north)).toHaveLength(1);
    expect(
      bySite
        .get(south)!
        .map((reading) => reading.sensor)
        .sort(),
    ).toEqual([0, 1]);
    expect(await fleet.readings({ nodeId: second, sensor: 0 }, 0, 1e15)).toHaveLength(1);
  });

  it('are read as one series when a sensor is clamped elsewhere meanwhile', async () => {
    const site = freshSite();
    const nodeId = freshNode();
    const beginMs = madeReading(0, 1).startMs;
    const store = await openInfluxStore(join(folder, 'moved.sqlite'), influx!, {
      site,
      mountOf: (_, __, atMs) => ({ asset: '1', location: atMs < beginMs + 5_400_000 ? '7' : '4' }),
    });
    await store.commit(
      Array.from({ length: 10_000 }, (_, k) => madeReading(k, 1 + (k % 3), { nodeId })),
      1,
    );
    expect(await store.delivered(20_000)).toBe(true);
    const sensor = { nodeId, sensor: 0 };
    for (const value of ['accelerationRmsMPerS2', 'crestFactor'] as const) {
      for (const maxPoints of [2, 100, 5000]) {
        const query = {
          sensor,
          value,
          axis: 'x',
          fromMs: beginMs,
          toMs: beginMs + 10_000_000,
          maxPoints,
        } as const;
        const ours = await store.series(query);
        expect(ours.count.reduce((a, b) => a + b)).toBe(10_000);
        expect(ours.timeMs).toHaveLength(maxPoints);
      }
    }
    expect(await store.readings(sensor, beginMs + 5_390_000, beginMs + 5_410_000)).toHaveLength(20);
    expect((await openInfluxReader(influx!, site).latest())[0]!.startMs).toBe(beginMs + 9_999_000);
    await store.close();
  });

  it('keep the fuller minute and hour when a station begins its file anew', async () => {
    const site = freshSite();
    const nodeId = freshNode();
    const all = Array.from({ length: 3700 }, (_, k) => madeReading(k, 2, { nodeId }));
    const store = await open('whole.sqlite', site);
    await store.commit(all, 1);
    expect(await store.delivered(20_000)).toBe(true);
    await store.close();
    // The journal of the lost file reaches back to the middle of a minute and of the hour only.
    const again = await open('anew.sqlite', site);
    await again.commit(all.slice(1830), 1);
    expect(await again.delivered(20_000)).toBe(true);
    await again.close();
    const fromMs = madeReading(0, 1).startMs;
    const series = async (maxPoints: number) =>
      openInfluxReader(influx!, site).series({
        sensor: { nodeId, sensor: 0 },
        value: 'velocityRmsMmPerS',
        axis: 'x',
        fromMs,
        toMs: fromMs + 3_600_000,
        maxPoints,
      });
    expect((await series(1)).count).toEqual([3600]);
    expect((await series(60)).count).toEqual(Array.from({ length: 60 }, () => 60));
  });
});
