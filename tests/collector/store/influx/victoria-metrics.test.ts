import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Reading } from '../../../../collector/model.ts';
import { openInfluxStore } from '../../../../collector/store/influx/influx-store.ts';
import { openReadingReader } from '../../../../collector/store/sqlite-reader.ts';
import { madeReading } from '../reading-store-contract.ts';
import { isInstalled, runVictoriaMetrics, type ServerProcess } from './server-process.ts';
import { type Fleet, openStations, PLACES } from './two-sites.ts';

const installed = isInstalled('victoria-metrics');
const folder = mkdtempSync(join(tmpdir(), 'clampline-vm-'));
let server: ServerProcess;
beforeAll(async () => {
  if (installed) server = await runVictoriaMetrics();
});
afterAll(async () => {
  await server?.close();
  rmSync(folder, { recursive: true, force: true });
});

const SENSOR = { nodeId: '00000000000000b1', sensor: 0 };
let files = 0;
const freshFile = () => join(folder, `${files++}.sqlite`);
const open = (file: string, site: string) =>
  openInfluxStore(
    file,
    { url: server.url, token: 'unused', org: '-', bucket: 'clampline', writeOnly: true },
    { site },
  );

interface Exported {
  metric: Record<string, string>;
  values: number[];
  timestamps: number[];
}

/** Everything the database has of a metric of a site, by its own interface. */
async function exported(metric: string, site: string): Promise<Exported[]> {
  await fetch(`${server.url}/internal/force_flush`);
  const match = encodeURIComponent(`${metric}{site="${site}"}`);
  const answer = await fetch(`${server.url}/api/v1/export?match[]=${match}`);
  const text = await answer.text();
  return text
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line) as Exported);
}

async function points(metric: string, site: string, axis: string): Promise<[number, number][]> {
  const series = (await exported(metric, site)).filter((one) => one.metric['axis'] === axis);
  expect(series.length).toBeLessThanOrEqual(1);
  return series[0]?.timestamps.map((ms, i) => [ms, series[0]!.values[i]!] as [number, number]) ?? [];
}

const name = installed ? '' : 'skipped: victoria-metrics not installed: ';

describe.skipIf(!installed)(`${name}writing to VictoriaMetrics`, () => {
  it('delivers every axis of every reading, with its tags and time', async () => {
    const store = await open(freshFile(), 'tags');
    await store.commit(
      [madeReading(0, 1.25), madeReading(1, 2.5), madeReading(2, 9, { flags: ['clipped'] })],
      1,
    );
    expect(await store.delivered(20_000)).toBe(true);
    const series = await exported('reading_1s_velocity_rms_mm_s', 'tags');
    expect(series.map((one) => one.metric['axis']).sort()).toEqual(['highest', 'x', 'y']);
    expect(series[0]!.metric).toMatchObject({ node: SENSOR.nodeId, sensor: '0', site: 'tags' });
    const at = (second: number) => madeReading(second, 1).startMs;
    expect(await points('reading_1s_velocity_rms_mm_s', 'tags', 'x')).toEqual([
      [at(0), 1.25],
      [at(1), 2.5],
    ]);
    expect(await store.readings(SENSOR, 0, 1e15)).toHaveLength(3);
    expect(await points('reading_1s_velocity_rms_mm_s_left_out', 'tags', 'x')).toEqual([[at(2), 9]]);
    expect(await points('reading_1s_left_out', 'tags', 'highest')).toEqual([
      [at(0), 0],
      [at(1), 0],
      [at(2), 1],
    ]);
    await store.close();
  });

  it('delivers minutes and hours as the station has them, once, however often they were rolled up', async () => {
    const file = freshFile();
    const store = await open(file, 'rollups');
    const readings = Array.from({ length: 3700 }, (_, k) => madeReading(k, 1 + (k % 7)));
    for (let at = 0; at < readings.length; at += 500) {
      await store.commit(readings.slice(at, at + 500), at);
      expect(await store.delivered(20_000)).toBe(true);
    }
    const minutes = await points('reading_1m_count', 'rollups', 'x');
    expect(minutes).toHaveLength(61);
    expect(minutes.every(([, count]) => count === 60)).toBe(true);
    expect(await points('reading_1h_count', 'rollups', 'x')).toEqual([
      // The second hour is not over.
      [madeReading(0, 1).startMs, 3600],
    ]);
    const local = openReadingReader(file);
    const hour = await local.series({
      sensor: SENSOR,
      value: 'velocityRmsMmPerS',
      axis: 'x',
      fromMs: madeReading(0, 1).startMs,
      toMs: madeReading(3600, 1).startMs,
      maxPoints: 1,
    });
    const [[, value]] = (await points('reading_1h_velocity_rms_mm_s', 'rollups', 'x')) as [[number, number]];
    expect(value).toBeCloseTo(hour.value[0]!, 6);
    const [[, used]] = (await points('reading_1h_velocity_rms_mm_s_used', 'rollups', 'x')) as [
      [number, number],
    ];
    const [[, squares]] = (await points('reading_1h_velocity_rms_mm_s_square_sum', 'rollups', 'x')) as [
      [number, number],
    ];
    expect(Math.sqrt(squares / used)).toBeCloseTo(value, 5);
    await local.close();
    await store.close();
  });

  it('keeps several stations apart by site, whose assets have the same numbers', async () => {
    const fleet: Fleet = {
      depot: 'fleet-depot',
      harbour: 'fleet-harbour',
      yard: 'fleet-yard',
      nodes: ['00000000000000d1', '00000000000000e1', '00000000000000f1'],
    };
    const settings = { url: server.url, token: 'unused', org: '-', bucket: 'clampline', writeOnly: true };
    const stations = await openStations(settings, fleet, folder);
    for (const station of stations) {
      expect(await station.delivered(60_000)).toBe(true);
      await station.close();
    }
    const newest = async (site: string) =>
      (await exported('reading_1s_velocity_rms_mm_s', site))
        .filter((one) => one.metric['axis'] === 'highest')
        .map(({ metric, values }) => [metric['asset'], metric['location'], values.at(-1)]);
    expect(await newest('fleet-harbour')).toEqual(
      expect.arrayContaining([
        ['1', '1', 8],
        ['1', '2', 0.5],
      ]),
    );
    expect(await newest('fleet-depot')).toContainEqual(['1', '1', 4]);
    // It keeps numbers only: names are told to it in vain.
    const told = await exported('place_places', 'fleet-depot');
    expect(told.map(({ values }) => values)).toEqual([[PLACES.depot.length]]);
  });

  it('loses and doubles nothing when the database is away again and again, and the station starts anew', async () => {
    const file = freshFile();
    const readings: Reading[] = Array.from({ length: 6000 }, (_, k) => madeReading(k, 1 + (k % 5)));
    let store = await open(file, 'killed');
    for (let round = 0; round < 6; round++) {
      await store.commit(readings.slice(round * 1000, round * 1000 + 1000), round);
      // It ends while it is being written to; not by SIGKILL, since it acknowledges seconds before it writes down.
      if (round % 2 === 0) {
        await server.kill('SIGTERM');
        if (round === 2) {
          await store.close();
          store = await open(file, 'killed');
        }
      } else {
        await server.start();
        await store.delivered(30_000);
      }
    }
    expect(await store.delivered(30_000)).toBe(true);
    const found = await points('reading_1s_velocity_rms_mm_s', 'killed', 'x');
    expect(found).toEqual(readings.map((one) => [one.startMs, one.axes[0]!.velocityRmsMmPerS]));
    expect(store.delivery()).toMatchObject({ waiting: 0, dropped: 0, rejected: 0 });
    await store.close();
  });
});
