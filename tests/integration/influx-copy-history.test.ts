import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterAll, afterEach, describe, expect, it, vi } from 'vitest';
import { openReadingReader, openReadingStore } from '../../collector/index.ts';
import { copyHistoryCommand } from '../../dashboard/station/copy-history-command.ts';
import { takeDataFolder } from '../../dashboard/station/data-folder.ts';
import { freshSite, influxOfEnvironment, NO_INFLUX } from '../collector/store/influx/influx-server.ts';
import { madeReading } from '../collector/store/reading-store-contract.ts';

const influx = influxOfEnvironment();
const folder = mkdtempSync(join(tmpdir(), 'clampline-copy-command-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
afterEach(() => void vi.restoreAllMocks());

async function run(...words: string[]): Promise<string> {
  const said: string[] = [];
  vi.spyOn(console, 'log').mockImplementation((line) => void said.push(String(line)));
  await new Command()
    .exitOverride()
    .addCommand(copyHistoryCommand())
    .parseAsync(['copy-history', ...words], { from: 'user' });
  return said.join('\n');
}

let folders = 0;
const freshFolder = () => mkdtempSync(join(folder, `${folders++}-`));
const SENSOR = { nodeId: '00000000000000b1', sensor: 0 };

async function station(readings: number): Promise<string> {
  const dataDir = freshFolder();
  const store = await openReadingStore({ readingsFile: join(dataDir, 'readings.sqlite'), site: 'depot' });
  const made = Array.from({ length: readings }, (_, k) => {
    const flags = k % 200 === 9 ? (['clipped'] as const) : [];
    const one = madeReading(k, 1 + (k % 7) / 3, { flags: [...flags], sampleRateHz: 3187.65 });
    const added = {
      meanMPerS2: 9.8 - k / 1e4,
      velocityUncertaintyMmPerS: k % 5 === 0 ? null : 0.1 + (k % 5) / 7,
    };
    return { ...one, axes: one.axes.map((axis) => ({ ...axis, ...added })) };
  });
  await store.commit(made, readings);
  await store.close();
  return dataDir;
}

async function answers(dataDir: string) {
  const reader = openReadingReader(join(dataDir, 'readings.sqlite'));
  const fromMs = madeReading(0, 1).startMs;
  const all: unknown[] = [await reader.readings(SENSOR, 0, 1e15)];
  for (const value of ['velocityRmsMmPerS', 'crestFactor'] as const) {
    for (const maxPoints of [2, 100, 500]) {
      all.push(
        await reader.series({
          sensor: SENSOR,
          value,
          axis: 'y',
          fromMs,
          toMs: fromMs + 2 * 3_600_000,
          maxPoints,
        }),
      );
    }
  }
  await reader.close();
  return all;
}

describe('copy-history', () => {
  it('says what it needs', async () => {
    const dataDir = freshFolder();
    await expect(run('--to', 'influx', '--data', dataDir)).rejects.toMatchObject({ code: 'BAD_SETTING' });
    const url = ['--influx-url', 'http://127.0.0.1:1', '--influx-org', 'o', '--influx-bucket', 'b'];
    await expect(run('--to', 'influx', '--data', dataDir, ...url)).rejects.toMatchObject({
      code: 'BAD_SETTING',
      message: expect.stringContaining('token'),
    });
    const tokenFile = join(dataDir, 'token');
    writeFileSync(tokenFile, 'secret\n');
    const withToken = [...url, '--influx-token-file', tokenFile];
    await expect(run('--to', 'influx', '--data', dataDir, ...withToken)).rejects.toMatchObject({
      code: 'DATA_FOLDER',
      message: expect.stringContaining('no readings'),
    });
    await expect(run('--to', 'influx', '--data', await station(10), ...withToken)).rejects.toMatchObject({
      code: 'INFLUX_UNREACHABLE',
    });
    const release = takeDataFolder(dataDir, 'station');
    await expect(run('--to', 'sqlite', '--data', dataDir, ...withToken)).rejects.toMatchObject({
      code: 'STATION_RUNS',
    });
    release();
  });
});

const name = influx === null ? `${NO_INFLUX}: ` : '';
describe.skipIf(influx === null)(`${name}copy-history with an InfluxDB`, () => {
  function options(site: string, dataDir: string): string[] {
    const tokenFile = join(folder, 'token');
    writeFileSync(tokenFile, influx!.token);
    return [
      ...['--data', dataDir, '--site', site, '--influx-url', influx!.url, '--influx-org', influx!.org],
      ...['--influx-bucket', influx!.bucket, '--influx-token-file', tokenFile],
    ];
  }

  it('brings a history there and back again unchanged, and twice changes nothing', async () => {
    const site = freshSite();
    const first = await station(5000);
    for (let round = 0; round < 2; round++) {
      expect(await run('--to', 'influx', ...options(site, first))).toContain('counts the same on both sides');
    }
    expect(existsSync(join(first, 'copy-history-to-influx.json'))).toBe(false);
    const second = freshFolder();
    expect(await run('--to', 'sqlite', ...options(site, second))).toContain('counts the same on both sides');
    expect(await answers(second)).toEqual(await answers(first));
  });

  it('goes on from its checkpoint, and fails when a day does not count the same', async () => {
    const site = freshSite();
    const dataDir = await station(2000);
    await run('--to', 'influx', ...options(site, dataDir));
    // As if an earlier run had copied all seconds of another place: they are missing here.
    const other = freshSite();
    const route = {
      to: 'influx',
      readings: join(dataDir, 'readings.sqlite'),
      url: influx!.url,
      org: influx!.org,
      bucket: influx!.bucket,
      site: other,
    };
    const checkpoint = { [`second ${SENSOR.nodeId} ${SENSOR.sensor}`]: 2 ** 33 };
    writeFileSync(join(dataDir, 'copy-history-to-influx.json'), JSON.stringify({ route, checkpoint }));
    const said: string[] = [];
    vi.spyOn(console, 'log').mockImplementation((line) => void said.push(String(line)));
    await expect(run('--to', 'influx', ...options(other, dataDir))).rejects.toMatchObject({
      code: 'COPY_DIFFERS',
      remedy: expect.stringContaining('again'),
    });
    expect(await run('--to', 'influx', ...options(other, dataDir))).toContain(
      'counts the same on both sides',
    );
  });
});
