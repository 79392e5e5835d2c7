import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { exportReadings, importReadings, parseCsv, parseLines } from '../../../collector/exchange/index.ts';
import type { Reading } from '../../../collector/model.ts';
import type { LevelName } from '../../../collector/store/influx/layout.ts';
import { sqliteHistorySource } from '../../../collector/store/migration-copy-sqlite.ts';
import { openSqliteStore } from '../../../collector/store/sqlite-store.ts';

const NODE_A = '00000000000000a1';
const NODE_B = '00000000000000b2';
const BEGIN_S = 1_760_000_400;
const PLACE = { asset: 'Bus 1, "the old one"', location: '=Hub' };

function reading(nodeId: string, second: number): Reading {
  const level = 1 + (second % 97) / 7;
  const isOld = nodeId === NODE_B;
  return {
    nodeId,
    sensor: 0,
    startMs: second * 1000,
    durationS: 0.99973,
    sampleRateHz: 3188.25,
    bandHz: [10, 1000],
    axes: (['x', 'y', 'z'] as const).slice(0, isOld ? 1 : 3).map((axis, i) => ({
      axis,
      velocityRmsMmPerS: second % 60 === 7 ? null : level / (i + 1),
      accelerationRmsMPerS2: level * 1.1,
      accelerationPeakMPerS2: level * 4.2,
      crestFactor: 3.8181,
      kurtosis: 3.03,
      ...(isOld
        ? {}
        : {
            meanMPerS2: i === 2 ? 9.80665 : -0.01,
            velocityUncertaintyMmPerS: second % 60 === 7 ? null : (0.11 * level) / (i + 1),
          }),
    })),
    flags: second % 60 === 7 ? ['settling', 'time-unknown'] : [],
    ...(isOld ? {} : { timeUncertaintyMs: second % 60 === 7 ? null : 2.5 }),
  };
}

let folder: string;
let seconds: Reading[];

beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'clampline-exchange-'));
  const store = await openSqliteStore(join(folder, 'from.sqlite'), { retention: { secondsDays: null } });
  seconds = [NODE_A, NODE_B].flatMap((nodeId) =>
    Array.from({ length: 7500 }, (_, i) => reading(nodeId, BEGIN_S + i)),
  );
  await store.commit(seconds, 5);
  await store.close();
});

afterEach(() => rm(folder, { recursive: true, force: true }));

async function exported(
  format: 'csv' | 'line',
  level: LevelName = 'second',
  span: { fromS: number; untilS: number } = { fromS: 0, untilS: Number.MAX_SAFE_INTEGER },
  file = 'from.sqlite',
): Promise<string> {
  const source = sqliteHistorySource(join(folder, file))!;
  const parts = (await source.sensors()).map((sensor) => ({ sensor, ...span }));
  const placeOf = ({ nodeId }: { nodeId: string }) => (nodeId === NODE_A ? PLACE : null);
  const mountOf = (nodeId: string) => (nodeId === NODE_A ? { asset: '1', location: '2' } : null);
  let text = '';
  const options = { format, level, site: 'depot', placeOf, mountOf };
  for await (const piece of exportReadings(source, parts, options)) text += piece;
  source.close();
  return text;
}

async function* linesOf(text: string) {
  yield* text.split('\n');
}

const parse = (format: 'csv' | 'line', text: string) =>
  format === 'csv' ? parseCsv(Readable.from([text])) : parseLines(linesOf(text));

describe.each(['csv', 'line'] as const)('readings as %s', (format) => {
  it('come back as they were, with their minutes and hours, and only once', async () => {
    const text = await exported(format);
    const file = join(folder, 'to.sqlite');
    const first = await importReadings(file, parse(format, text));
    expect(first.second).toEqual({ read: 15_000, fresh: 15_000 });
    expect((await importReadings(file, parse(format, text))).second).toEqual({ read: 15_000, fresh: 0 });
    expect(await exported(format, 'second', undefined, 'to.sqlite')).toBe(text);
    // Rolled up here as there.
    for (const level of ['minute', 'hour'] as const) {
      const own = await exported(format, level, undefined, 'to.sqlite');
      expect(own.length).toBeGreaterThan(1000);
      expect(own).toBe(await exported(format, level));
    }
  });

  it('of minutes and hours come back alone, where the seconds are gone', async () => {
    const file = join(folder, 'to.sqlite');
    for (const level of ['minute', 'hour'] as const) {
      const text = await exported(format, level);
      const counts = await importReadings(file, parse(format, text));
      expect(counts[level].read).toBeGreaterThan(0);
      expect(counts[level].fresh).toBe(counts[level].read);
      expect((await importReadings(file, parse(format, text)))[level].fresh).toBe(0);
    }
    expect(await exported(format, 'minute', undefined, 'to.sqlite')).toBe(await exported(format, 'minute'));
  });

  it('can be of a span: its begin counts in, its end does not', async () => {
    const span = { fromS: BEGIN_S + 10, untilS: BEGIN_S + 12 };
    const items = [];
    for await (const item of parse(format, await exported(format, 'second', span))) items.push(item);
    const times = items.map((item) => (item.level === 'second' ? item.reading.startMs / 1000 : null));
    expect(times).toEqual([BEGIN_S + 10, BEGIN_S + 11, BEGIN_S + 10, BEGIN_S + 11]);
  });

  it('leave what is measured here as it is', async () => {
    const file = join(folder, 'to.sqlite');
    const store = await openSqliteStore(file);
    const own = { ...reading(NODE_A, BEGIN_S), sampleRateHz: 6400 };
    await store.commit([own], 77);
    await store.close();
    await importReadings(file, parse(format, await exported(format)));
    const after = await openSqliteStore(file);
    expect(await after.journalPosition()).toBe(77);
    const [kept] = await after.readings({ nodeId: NODE_A, sensor: 0 }, BEGIN_S * 1000, BEGIN_S * 1000 + 1);
    expect(kept!.sampleRateHz).toBe(6400);
    await after.close();
  });
});

describe('line protocol', () => {
  it('keeps every value of a reading, and which values there are none of', async () => {
    const span = { fromS: BEGIN_S, untilS: BEGIN_S + 120 };
    const read: Reading[] = [];
    for await (const item of parseLines(linesOf(await exported('line', 'second', span)))) {
      if (item.level === 'second') read.push(item.reading);
    }
    const there = await openSqliteStore(join(folder, 'from.sqlite'));
    const stored = await Promise.all(
      [NODE_A, NODE_B].map((nodeId) =>
        there.readings({ nodeId, sensor: 0 }, span.fromS * 1000, span.untilS * 1000),
      ),
    );
    await there.close();
    // Nine digits stand for one 32-bit number.
    const as32Bit = (one: Reading) =>
      JSON.parse(JSON.stringify(one), (_, value) => (typeof value === 'number' ? Math.fround(value) : value));
    expect(read.map(as32Bit)).toEqual(stored.flat().map(as32Bit));
    expect(read).toHaveLength(240);
  });
});

describe('CSV', () => {
  it('is plain for spreadsheets: units in names, quoted where needed, no formulas', async () => {
    const [header, first] = (await exported('csv')).split('\r\n');
    expect(header).toMatch(/^time,site,asset,location,node,sensor,axis,velocity_rms_mm_s,/);
    expect(first).toMatch(
      /^2025-10-09T09:00:00\.000Z,depot,"Bus 1, ""the old one""",'=Hub,00000000000000a1,0,x,/,
    );
  });
});

describe('a file that is none', () => {
  it.each([
    ['csv', 'a,b\r\n1,2\r\n', /line 1: these columns are missing: time, site/],
    ['line', 'weather,site=x temp=1 1760000000', /line 1: measurement 'weather'/],
    [
      'line',
      'reading_1s,axis=x,node=00000000000000a1,sensor=0,site=d left_out=0i',
      /line 1: there is no time/,
    ],
    ['line', 'reading_1s,axis=x,node=00000000000000a1,sensor=0 left_out=0i 1760000000', /'highest' does not/],
    [
      'line',
      'reading_1s,axis=x,node=00000000000000a1,sensor=0 flags="a 1760000000',
      /quoted text does not end/,
    ],
  ] as const)('as %s: %s', async (format, text, expected) => {
    const file = join(folder, 'to.sqlite');
    await expect(importReadings(file, parse(format, text))).rejects.toMatchObject({
      code: 'IMPORT_UNREADABLE',
      message: expect.stringMatching(expected),
    });
  });

  it('keeps what came before the line it breaks at', async () => {
    const text = await exported('csv');
    const cut = text.slice(0, text.indexOf('3.8181', 400_000));
    const file = join(folder, 'to.sqlite');
    await expect(importReadings(file, parse('csv', cut))).rejects.toMatchObject({
      code: 'IMPORT_UNREADABLE',
    });
    const kept = (await exported('csv', 'second', undefined, 'to.sqlite')).split('\r\n');
    expect(kept.length).toBeGreaterThan(1000);
    expect(text.split('\r\n').slice(0, kept.length - 1)).toEqual(kept.slice(0, -1));
  });
});
