import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { influxHistory } from '../../../../collector/store/influx/history.ts';
import { openInfluxStore } from '../../../../collector/store/influx/influx-store.ts';
import { placeOf } from '../../../../collector/store/influx/place-points.ts';
import { rowOf } from '../../../../collector/store/reading-row.ts';
import { madeReading } from '../reading-store-contract.ts';
import { ask, createDatabase, readerOfInfluxOne, settingsFor } from './influx-one.ts';
import { isInstalled, runInfluxOne, type ServerProcess } from './server-process.ts';
import { type Fleet, openStations, PLACES } from './two-sites.ts';

const installed = isInstalled('influxd');
const folder = mkdtempSync(join(tmpdir(), 'clampline-influx1-'));
let server: ServerProcess;
beforeAll(async () => {
  if (!installed) return;
  server = await runInfluxOne();
  await createDatabase(server.url);
});
afterAll(async () => {
  await server?.close();
  rmSync(folder, { recursive: true, force: true });
});

const query = (q: string) => ask(server.url, q);

const name = installed ? '' : 'skipped: influxdb not installed: ';

describe.skipIf(!installed)(`${name}writing to an InfluxDB 1`, () => {
  it('keeps texts, whole numbers and tags apart, and writing again changes nothing', async () => {
    const settings = settingsFor(server.url);
    const open = (file: string) =>
      openInfluxStore(join(folder, file), settings, {
        site: 'depot',
        mountOf: (nodeId) =>
          nodeId.endsWith('b1') ? { asset: 'Bus 1, "blue"', location: 'rear axle = left\\' } : null,
      });
    // The second file is the first lost and made again: it writes all points once more.
    for (const file of ['first.sqlite', 'again.sqlite']) {
      const store = await open(file);
      const readings = Array.from({ length: 130 }, (_, k) =>
        madeReading(k, k / 4, { flags: ['below-noise-floor'] }),
      );
      await store.commit(
        [...readings, madeReading(0, 3, { nodeId: '00000000000000b2', timeUncertaintyMs: null })],
        1,
      );
      expect(await store.delivered(20_000)).toBe(true);
      expect(store.delivery()).toMatchObject({ waiting: 0, rejected: 0 });
      await store.close();
    }
    expect(await query('SELECT count(left_out) FROM reading_1s')).toMatchObject([{ count: 130 * 3 + 3 }]);
    expect(await query('SELECT count(count) FROM reading_1m')).toMatchObject([{ count: 2 * 3 }]);
    const head = await query(
      `SELECT * FROM reading_1s WHERE axis = 'highest' AND node = '00000000000000b1' LIMIT 1`,
    );
    expect(head).toMatchObject([
      {
        time: madeReading(0, 1).startMs / 1000,
        asset: 'Bus 1, "blue"',
        location: 'rear axle = left',
        axes: 'x,y',
        flags: 'below-noise-floor',
        left_out: 0,
        sample_rate_hz: 3200,
        time_uncertainty_ms: 2,
      },
    ]);
    const other = await query(
      `SELECT * FROM reading_1s WHERE axis = 'highest' AND node = '00000000000000b2'`,
    );
    expect(other).toMatchObject([{ velocity_rms_mm_s: 3, flags: '', time_uncertainty_ms: -2 }]);
    expect(other[0]!['asset'] ?? null).toBeNull();
    const [types] = await query(
      `SELECT sum(velocity_rms_mm_s_used), sum(velocity_rms_mm_s_square_sum) FROM reading_1m WHERE axis = 'x'`,
    );
    expect(types).toMatchObject({ sum: 120 });
  });

  it('gets from a copied history the points that the running station sends', async () => {
    const site = 'copied';
    const readings = Array.from({ length: 200 }, (_, k) => {
      const one = madeReading(k, 1 + k / 8, { flags: k % 50 === 9 ? ['clipped'] : [] });
      const added = { meanMPerS2: k / 16 - 9, velocityUncertaintyMmPerS: k % 7 === 0 ? null : k / 256 };
      return { ...one, axes: one.axes.map((axis) => ({ ...axis, ...added })) };
    });
    const sensor = { nodeId: readings[0]!.nodeId, sensor: 0 };
    const settings = settingsFor(server.url);
    await influxHistory(settings, site).put(sensor, { level: 'second', rows: readings.map(rowOf) });
    const there = () => query(`SELECT * FROM reading_1s WHERE site = '${site}'`);
    const copied = await there();
    expect(copied).toHaveLength(200 * 3);
    expect(await readerOfInfluxOne(server.url, site).readings(sensor, 0, 1e15)).toEqual(readings);

    const store = await openInfluxStore(join(folder, 'runs-on.sqlite'), settings, { site });
    await store.commit(readings, 1);
    expect(await store.delivered(60_000)).toBe(true);
    await store.close();
    expect(await there()).toEqual(copied);
  });

  it('keeps apart what several stations tell of their assets, in whatever words', async () => {
    const fleet: Fleet = {
      depot: 'fleet-depot',
      harbour: 'fleet-harbour',
      yard: 'fleet-yard',
      nodes: ['00000000000000d1', '00000000000000e1', '00000000000000f1'],
    };
    const stations = await openStations(settingsFor(server.url), fleet, folder);
    for (const station of stations) {
      expect(await station.delivered(60_000)).toBe(true);
      await station.close();
    }
    const told = await query('SELECT * FROM place');
    for (const site of ['depot', 'harbour'] as const) {
      const own = told.filter((row) => row['site'] === fleet[site]);
      const places = own
        .filter((row) => row['asset'] !== null)
        .map((row) =>
          placeOf(
            { asset: String(row['asset']), location: (row['location'] as string | null) ?? null },
            new Map(Object.entries(row).filter((one): one is [string, string | number] => one[1] !== null)),
          ),
        );
      expect(places).toHaveLength(PLACES[site].length);
      expect(places).toEqual(expect.arrayContaining(PLACES[site]));
      expect(own.filter((row) => row['places'] === PLACES[site].length)).toHaveLength(1);
    }
    expect(told.some((row) => row['site'] === fleet.yard)).toBe(false);
    const levels = await query(
      `SELECT velocity_rms_mm_s, velocity_uncertainty_mm_s, asset, location, site FROM reading_1s WHERE axis = 'highest' AND site =~ /^fleet-/`,
    );
    const at = (second: number) => madeReading(second, 1).startMs / 1000;
    expect(levels).toContainEqual({
      time: at(100),
      velocity_rms_mm_s: 4,
      velocity_uncertainty_mm_s: 0.5,
      asset: '1',
      location: '1',
      site: 'fleet-depot',
    });
    expect(levels).toHaveLength(7);
  });

  it('has everything once after it was killed again and again while it was written to', async () => {
    const settings = settingsFor(server.url);
    const store = await openInfluxStore(join(folder, 'killed.sqlite'), settings, { site: 'killed' });
    for (let round = 0; round < 4; round++) {
      const readings = Array.from({ length: 3000 }, (_, k) => madeReading(round * 3000 + k, 1 + (k % 5)));
      await store.commit(readings, round);
      await server.kill('SIGKILL');
      await server.start();
    }
    expect(await store.delivered(60_000)).toBe(true);
    expect(store.delivery()).toMatchObject({ waiting: 0, dropped: 0, rejected: 0 });
    await store.close();
    const [row] = await query(
      `SELECT count(velocity_rms_mm_s), sum(velocity_rms_mm_s) FROM reading_1s WHERE site = 'killed' AND axis = 'x'`,
    );
    expect(row).toMatchObject({ count: 12_000, sum: 12_000 * 3 });
  }, 120_000);
});
