import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { HttpError } from '@influxdata/influxdb-client';
import { afterAll, afterEach, describe, expect, it } from 'vitest';
import { CollectorError } from '../../../../collector/errors.ts';
import { retryAfterMs } from '../../../../collector/store/influx/client.ts';
import { type InfluxStore, openInfluxStore } from '../../../../collector/store/influx/influx-store.ts';
import { stopOutbox } from '../../../../collector/store/influx/outbox.ts';
import { openSqliteStore } from '../../../../collector/store/sqlite-store.ts';
import { madeReading } from '../reading-store-contract.ts';
import { door } from './door.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-courier-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const closers: (() => unknown)[] = [];
afterEach(async () => {
  for (const close of closers.splice(0)) await close();
});

let files = 0;
async function storeAt(
  url: string,
  options: {
    file?: string;
    maxBytes?: number;
    warnings?: string[];
    keepDays?: Record<string, number>;
    ownBuckets?: boolean;
  } = {},
) {
  const file = options.file ?? join(folder, `${files++}.sqlite`);
  const settings = {
    url,
    token: 'secret-token',
    org: 'org',
    bucket: 'bucket',
    ...(options.ownBuckets ? { minuteBucket: 'minutes', hourBucket: 'hours' } : {}),
    keepDays: options.keepDays ?? {},
  };
  const store: InfluxStore = await openInfluxStore(file, settings, {
    site: 'depot',
    log: { info: () => {}, warn: (message) => options.warnings?.push(message) },
    ...(options.maxBytes ? { retention: { maxBytes: options.maxBytes } } : {}),
  });
  closers.push(() => store.close());
  return { store, file };
}

const seconds = (from: number, to: number) =>
  Array.from({ length: to - from }, (_, k) => madeReading(from + k, 1 + ((from + k) % 9)));
const ofAxis = (lines: string[], axis: string) =>
  lines
    .filter((line) => line.startsWith(`reading_1s,axis=${axis},`))
    .map((line) => Number(line.split(' ').at(-1)));
const times = (from: number, to: number) => seconds(from, to).map((one) => one.startMs / 1000);

describe('delivery to the database', () => {
  it('goes in order and in batches, with organization, bucket and precision', async () => {
    const { url, taken, requests, close } = await door(() => ({ status: 204 }));
    closers.push(close);
    const { store } = await storeAt(url);
    await store.commit(seconds(0, 3000), 1);
    expect(await store.delivered(20_000)).toBe(true);
    expect(ofAxis(taken, 'x')).toEqual(times(0, 3000));
    const writes = requests.filter((one) => one.lines > 0);
    expect(writes.length).toBeGreaterThan(2);
    expect(Math.max(...writes.map((one) => one.lines))).toBeLessThanOrEqual(5000);
    expect(writes[0]!.url).toBe('/api/v2/write?org=org&bucket=bucket&precision=s');
  });

  it('takes the time that the database asks for as HTTP counts it, in seconds', () => {
    const busy = new HttpError(503, 'busy', '', '3');
    expect(retryAfterMs(new CollectorError('INFLUX_UNREACHABLE', '', busy))).toBe(3000);
    expect(retryAfterMs(new HttpError(503, 'busy'))).toBe(0);
    expect(retryAfterMs(new Error('gone'))).toBe(0);
  });

  it('waits as long as the database asks, then goes on where it was', async () => {
    let refusals = 2;
    const { url, taken, close } = await door(() =>
      refusals-- > 0 ? { status: 429, headers: { 'retry-after': '1' } } : { status: 204 },
    );
    closers.push(close);
    const warnings: string[] = [];
    const { store } = await storeAt(url, { warnings });
    await store.commit(seconds(0, 10), 1);
    expect(await store.delivered(20_000)).toBe(true);
    expect(ofAxis(taken, 'y')).toEqual(times(0, 10));
    expect(store.delivery()).toMatchObject({ waiting: 0, problem: null });
    expect(warnings).toHaveLength(1);
    expect(warnings[0]).toContain('Readings wait on the disk');
  });

  it('commits while the database is away, starts without it, and delivers after a restart', async () => {
    const first = await storeAt('http://127.0.0.1:1');
    await first.store.commit(seconds(0, 130), 77, { set: [['k', '1']], remove: [] });
    expect(await first.store.delivered(1500)).toBe(false);
    expect(first.store.delivery()).toMatchObject({ waiting: 132, problem: { code: 'INFLUX_UNREACHABLE' } });
    expect(await first.store.latest()).toHaveLength(1);
    await expect(
      first.store.readings({ nodeId: '00000000000000b1', sensor: 0 }, 0, 1e15),
    ).rejects.toMatchObject({
      code: 'INFLUX_UNREACHABLE',
      remedy: expect.stringContaining('disk'),
    });
    await first.store.close();

    const { url, taken, close } = await door(() => ({ status: 204 }));
    closers.push(close);
    const { store } = await storeAt(url, { file: first.file });
    expect(await store.journalPosition()).toBe(77);
    expect(await store.delivered(20_000)).toBe(true);
    expect(ofAxis(taken, 'highest')).toEqual(times(0, 130));
    expect(taken.filter((line) => line.startsWith('reading_1m'))).toHaveLength(6);
  });

  it('rejects one point that the database never takes, and delivers all others', async () => {
    const bad = ` ${times(57, 58)[0]}`;
    const { url, taken, close } = await door((lines) =>
      lines.some((line) => line.endsWith(bad) && line.includes('axis=y'))
        ? { status: 400, text: 'field type conflict' }
        : { status: 204 },
    );
    closers.push(close);
    const warnings: string[] = [];
    const { store } = await storeAt(url, { warnings });
    await store.commit(seconds(0, 100), 1);
    expect(await store.delivered(20_000)).toBe(true);
    expect(new Set(ofAxis(taken, 'x'))).toEqual(new Set([...times(0, 57), ...times(58, 100)]));
    expect(store.delivery()).toMatchObject({ waiting: 0, rejected: 1, delivered: 100 });
    expect(warnings.join()).toContain('field type conflict');
  });

  it('gives nothing up when the database refuses everything', async () => {
    const { url, close } = await door(() => ({ status: 400, text: 'unable to parse' }));
    closers.push(close);
    const { store } = await storeAt(url);
    await store.commit(seconds(0, 50), 1);
    expect(await store.delivered(1500)).toBe(false);
    expect(store.delivery()).toMatchObject({ waiting: 50, rejected: 0, problem: { code: 'INFLUX_REFUSED' } });
  });

  /** As InfluxDB 2.8 and later, 2.1 to 2.7, and 2.0 put it: issues 26257, 6071 (docs) and dojot 2216. */
  const point = `reading_1s,asset=1,axis=highest,location=1,node=00000000000000b1,sensor=0,site=${'depot'.repeat(20)}`;
  it.each<[string, number, (dropped: number) => string]>([
    [
      'in 2.8',
      422,
      (dropped) =>
        `failure writing points to database: partial write: dropped ${dropped} points outside retention policy of duration 720h0m0s - ` +
        `oldest point ${point} at 2022-05-09T10:22:00Z dropped because it violates a Retention Policy Lower Bound at 2025-03-05T16:34:57.686336708Z, ` +
        `newest point ${point} at 2025-02-23T14:44:00Z dropped because it violates a Retention Policy Lower Bound at 2025-03-05T16:34:57.686336708Z ` +
        `dropped=${dropped} for database: 91040e1bf6671dfd for retention policy: autogen`,
    ],
    [
      'in 2.7',
      422,
      (dropped) =>
        `failure writing points to database: partial write: points beyond retention policy dropped=${dropped}`,
    ],
    [
      'in 2.0',
      500,
      (dropped) =>
        `unexpected error writing points to database: partial write: points beyond retention policy dropped=${dropped}`,
    ],
  ])(
    'leaves behind what lies beyond the retention of the bucket, in one request a batch, as it is said %s',
    async (_version, status, said) => {
      const edge = times(900, 901)[0]!;
      const kept: string[] = [];
      const { url, requests, close } = await door((lines) => {
        const young = lines.filter((line) => Number(line.split(' ').at(-1)) >= edge);
        kept.push(...young);
        const dropped = lines.length - young.length;
        return dropped > 0 ? { status, text: said(dropped) } : { status: 204 };
      });
      closers.push(close);
      const warnings: string[] = [];
      const { store } = await storeAt(url, { warnings });
      await store.commit(seconds(0, 1000), 1);
      expect(await store.delivered(20_000)).toBe(true);
      // 900 seconds and the 15 minutes that they are in; minute 16 is in time.
      expect(store.delivery()).toMatchObject({ waiting: 0, rejected: 915, delivered: 101, problem: null });
      expect(ofAxis(kept, 'x')).toEqual(times(900, 1000));
      expect(requests.filter((one) => one.lines > 0)).toHaveLength(1);
      expect(warnings.join()).toContain('retention');
    },
  );

  it('delivers minutes and hours to buckets that keep them, when that of the seconds keeps them no longer', async () => {
    const edge = times(3900, 3901)[0]!;
    const { url, requests, close } = await door((lines) => {
      const seconds = lines.filter((line) => line.startsWith('reading_1s'));
      const old = seconds.filter((line) => Number(line.split(' ').at(-1)) < edge).length;
      const text = `partial write: points beyond retention policy dropped=${old}`;
      return old > 0 ? { status: 422, text } : { status: 204 };
    });
    closers.push(close);
    const { store } = await storeAt(url, { ownBuckets: true });
    for (let at = 0; at < 4000; at += 500) await store.commit(seconds(at, at + 500), at);
    expect(await store.delivered(20_000)).toBe(true);
    // 100 seconds are in time; 66 minutes and the first hour are over.
    expect(store.delivery()).toMatchObject({ waiting: 0, rejected: 3900, problem: null });
    const written = (bucket: string) =>
      requests.filter((one) => one.url.includes(`bucket=${bucket}&`) && one.status === 204);
    expect(written('hours').reduce((sum, one) => sum + one.lines, 0)).toBe(3);
    const minutes = new Set(
      written('minutes').flatMap(({ text }) => text.split('\n').map((line) => line.split(' ').at(-1))),
    );
    expect(minutes.size).toBeGreaterThanOrEqual(66);
  });

  it('names a token that is not accepted, and keeps the token out of the message', async () => {
    const { url, close } = await door(() => ({ status: 401, text: 'unauthorized access' }));
    closers.push(close);
    const warnings: string[] = [];
    const { store } = await storeAt(url, { warnings });
    await store.commit(seconds(0, 1), 1);
    expect(await store.delivered(1500)).toBe(false);
    expect(store.delivery().problem).toMatchObject({ code: 'INFLUX_DENIED' });
    expect(warnings.join()).toContain('token');
    expect(warnings.join()).not.toContain('secret-token');
  });

  it('beyond the disk budget drops the oldest seconds, counted, and still delivers their minutes and hours', async () => {
    const HOURS = 8;
    const nowMs = madeReading(HOURS * 3600, 1).startMs;
    const { store, file } = await storeAt('http://127.0.0.1:1', { maxBytes: 2 * 1024 * 1024 });
    for (let hour = 0; hour < HOURS; hour++) {
      await store.commit(seconds(hour * 3600, hour * 3600 + 3600), hour);
      while (await store.prune(nowMs));
    }
    const { dropped, waiting } = store.delivery();
    expect(dropped).toBeGreaterThan(3600);
    expect(waiting).toBe(HOURS * 3600 - dropped + HOURS * 60 - 1 + HOURS - 1);
    await store.close();

    const { url, taken, close } = await door(() => ({ status: 204 }));
    closers.push(close);
    const again = await storeAt(url, { file, maxBytes: 2 * 1024 * 1024 });
    expect(await again.store.delivered(30_000)).toBe(true);
    expect(ofAxis(taken, 'x')).toEqual(times(dropped, HOURS * 3600));
    const minutes = taken.filter((line) => line.startsWith('reading_1m,axis=x'));
    expect(minutes).toHaveLength(HOURS * 60 - 1);
    expect(minutes.every((line) => line.includes(' count=60i,'))).toBe(true);
  });

  it('keeps what was not sent yet beyond its time', async () => {
    const { store } = await storeAt('http://127.0.0.1:1');
    await store.commit([...seconds(0, 120), madeReading(90 * 86_400, 1)], 1);
    while (await store.prune(madeReading(90 * 86_400, 1).startMs));
    expect(store.delivery()).toMatchObject({ dropped: 0, waiting: 124 });
  });

  it('deletes once a day what the database shall keep no longer, of its own site only', async () => {
    const { url, requests, close } = await door(() => ({ status: 204 }));
    closers.push(close);
    const { store } = await storeAt(url, { keepDays: { second: 30, minute: 700 } });
    const nowMs = Date.UTC(2026, 4, 20, 13);
    for (let i = 0; i < 3; i++) await store.prune(nowMs + i * 3_600_000);
    await store.close();
    const deletions = requests.filter((one) => one.url.startsWith('/api/v2/delete'));
    expect(deletions.map((one) => JSON.parse(one.text))).toEqual([
      {
        start: '1970-01-01T00:00:00.000Z',
        stop: '2026-04-19T23:59:59.999Z',
        predicate: '_measurement="reading_1s" AND site="depot"',
      },
      {
        start: '1970-01-01T00:00:00.000Z',
        stop: '2024-06-18T23:59:59.999Z',
        predicate: '_measurement="reading_1m" AND site="depot"',
      },
    ]);
    expect(deletions[0]!.url).toBe('/api/v2/delete?org=org&bucket=bucket');
  });

  it('gathers nothing more in a file that is used without a database again', async () => {
    const { store, file } = await storeAt('http://127.0.0.1:1');
    await store.commit(seconds(0, 10), 1);
    await store.close();
    stopOutbox(file);
    const alone = await openSqliteStore(file);
    await alone.commit(seconds(10, 200), 2);
    await alone.close();
    const again = await storeAt('http://127.0.0.1:1', { file });
    expect(again.store.delivery().waiting).toBe(10);
  });
});
