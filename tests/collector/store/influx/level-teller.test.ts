import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, onTestFinished, vi } from 'vitest';
import { createInfluxClient } from '../../../../collector/store/influx/client.ts';
import { openInfluxStore } from '../../../../collector/store/influx/influx-store.ts';
import { type LevelPoint, levelLine } from '../../../../collector/store/influx/level-points.ts';
import { createLevelTeller, type LevelSource } from '../../../../collector/store/influx/level-teller.ts';
import { checkInflux } from '../../../../collector/store/influx/settings.ts';
import { door } from './door.ts';
import { ask, createDatabase, settingsFor } from './influx-one.ts';
import { isInstalled, runInfluxOne, type ServerProcess } from './server-process.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-levels-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const NONE = { median: null, mad: null, medianSd: null };
const point = (id: number, more: Partial<LevelPoint> = {}): LevelPoint => ({
  id,
  asset: '1',
  location: '2',
  condition: '60-80 km/h, load 40-60 %',
  kind: 'road',
  fromMs: 1_760_000_000_000 + id * 3_600_000,
  toMs: 1_760_000_600_000 + id * 3_600_000,
  readings: 240,
  isLeftOut: false,
  values: [{ median: 2.5 + id / 4, mad: 0.125, medianSd: 0.03125 }, NONE, NONE, NONE, NONE],
  ...more,
});

/** Rows as the records file has them: written again, a row has a new number. */
function records(rows: LevelPoint[]) {
  const leftOut = new Set<number>();
  const told = { id: 0 };
  const source: LevelSource = {
    after: (id, limit) => rows.filter((row) => row.id > id).slice(0, limit),
    newest: () => rows.at(-1)?.id ?? 0,
    leftOutRuns: () => [...leftOut],
    ofRun: (run) =>
      rows.filter((row) => row.id === run).map((row) => ({ ...row, isLeftOut: leftOut.has(run) })),
  };
  return { rows, source, leftOut, told: { get: () => told.id, set: (id: number) => (told.id = id) } };
}

async function telling(
  rows: LevelPoint[],
  status: () => { status: number; text?: string } = () => ({ status: 204 }),
) {
  const database = await door(status);
  onTestFinished(async () => void (await database.close()));
  const settings = checkInflux({ url: database.url, token: 't', org: 'o', bucket: 'b', hourBucket: 'long' });
  const { source, leftOut, told } = records(rows);
  const start = () => createLevelTeller(createInfluxClient(settings), 'depot', source, told);
  return { ...database, leftOut, told, start };
}

describe('levels of runs by condition', () => {
  it('are points whose tags name site, asset, location and condition', () => {
    expect(levelLine('my depot', point(4))).toBe(
      String.raw`run_level,asset=1,condition=60-80\ km/h\,\ load\ 40-60\ %,location=2,site=my\ depot ` +
        'kind="road",end_s=1760015000i,readings=240i,left_out=0i,velocity_rms_mm_s=3.5,' +
        'velocity_rms_mm_s_mad=0.125,velocity_rms_mm_s_median_sd=0.03125 1760014400',
    );
  });

  it('are told once, in batches, and what changes again', async () => {
    const rows = Array.from({ length: 1200 }, (_, i) => point(i + 1));
    const { start, taken, requests, told } = await telling(rows);
    const look = start();
    await look();
    expect(taken).toHaveLength(1200);
    expect(requests).toHaveLength(3);
    expect(requests[0]!.url).toContain('bucket=long');
    expect(told.get()).toBe(1200);
    await look();
    rows.push(point(1201, { readings: 300 }));
    await look();
    // A start later only what is new.
    rows.push(point(1202));
    await start()();
    expect(taken.slice(1200).map((line) => line.split(' ').at(-1))).toHaveLength(2);
  });

  it('of a run that a person keeps out of trends are marked, and unmarked', async () => {
    const { start, taken, leftOut } = await telling([point(1), point(2)]);
    const look = start();
    await look();
    leftOut.add(2);
    await look();
    leftOut.clear();
    await look();
    await look();
    const marks = taken.map((line) => [line.split(' ').at(-1), /left_out=(\d)i/.exec(line)![1]]);
    const at = (id: number) => String(1_760_000_000 + id * 3600);
    expect(marks).toEqual([
      [at(1), '0'],
      [at(2), '0'],
      [at(2), '1'],
      [at(2), '0'],
    ]);
  });

  it('wait while the database is away, and pass over what it keeps no longer', async () => {
    let answer: { status: number; text?: string } = { status: 503 };
    const { start, taken, told } = await telling([point(1)], () => answer);
    const look = start();
    await expect(look()).rejects.toMatchObject({ code: 'INFLUX_UNREACHABLE' });
    expect(told.get()).toBe(0);
    answer = { status: 422, text: 'partial write: points beyond retention policy dropped=1' };
    await look();
    expect(told.get()).toBe(1);
    expect(taken).toEqual([]);
  });

  it('are all told again after the records came back from a backup', async () => {
    const { start, taken, told } = await telling([point(1), point(2)]);
    told.set(90);
    await start()();
    expect(taken).toHaveLength(2);
    expect(told.get()).toBe(2);
  });
});

const installed = isInstalled('influxd');
describe.skipIf(!installed)(
  `${installed ? '' : 'skipped: influxdb not installed: '}levels of runs in an InfluxDB 1`,
  () => {
    let server: ServerProcess;
    beforeAll(async () => {
      server = await runInfluxOne();
      await createDatabase(server.url);
    });
    afterAll(() => server?.close());

    it('of several sites are compared like with like, whatever the condition is called', async () => {
      const odd = String.raw`gear "3", a=b\ `;
      for (const [site, level] of [
        ['depot', 2],
        ['harbour', 4],
      ] as const) {
        const values = [{ median: level, mad: 0.1, medianSd: null }, NONE, NONE, NONE, NONE];
        const rows = [
          point(1, { values }),
          point(1, { id: 2, condition: odd }),
          point(1, { id: 3, values, asset: '7' }),
        ];
        const { source } = records(rows);
        const store = await openInfluxStore(join(folder, `${site}.sqlite`), settingsFor(server.url), {
          site,
          places: () => [],
          levels: source,
        });
        await vi.waitFor(async () => {
          const found = await ask(server.url, `SELECT * FROM run_level WHERE site = '${site}'`);
          expect(found).toHaveLength(3);
        }, 60_000);
        await store.close();
      }
      const alike = await ask(
        server.url,
        `SELECT velocity_rms_mm_s, site, asset, readings FROM run_level WHERE condition = '60-80 km/h, load 40-60 %' AND left_out = 0`,
      );
      expect(alike.map((row) => [row['site'], row['asset'], row['velocity_rms_mm_s']]).sort()).toEqual([
        ['depot', '1', 2],
        ['depot', '7', 2],
        ['harbour', '1', 4],
        ['harbour', '7', 4],
      ]);
      const conditions = await ask(server.url, 'SELECT condition, readings FROM run_level');
      expect(new Set(conditions.map((row) => row['condition']))).toEqual(
        new Set(['60-80 km/h, load 40-60 %', odd.trim().replace(/\\$/, '')]),
      );
    });
  },
);
