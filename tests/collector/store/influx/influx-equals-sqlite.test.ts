import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, describe, expect, it } from 'vitest';
import type { Flag } from '../../../../collector/model.ts';
import { openInfluxReader } from '../../../../collector/store/influx/influx-reader.ts';
import { openInfluxStore } from '../../../../collector/store/influx/influx-store.ts';
import type { SeriesQuery } from '../../../../collector/store/reading-store.ts';
import { openReadingReader } from '../../../../collector/store/sqlite-reader.ts';
import { madeReading } from '../reading-store-contract.ts';
import { freshSite, influxOfEnvironment, NO_INFLUX } from './influx-server.ts';

const influx = influxOfEnvironment();
const folder = mkdtempSync(join(tmpdir(), 'clampline-equal-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const HOURS = 30;
const EVERY_S = 17;
const BEGIN_MS = madeReading(0, 1).startMs;

const name = influx === null ? `${NO_INFLUX}: ` : '';
describe.skipIf(influx === null)(`${name}a series in Flux`, () => {
  it('is that of the SQLite store, whatever is asked', async () => {
    const site = freshSite();
    const nodeId = freshSite().slice(1).padEnd(16, '0');
    const file = join(folder, 'readings.sqlite');
    const store = await openInfluxStore(file, influx!, { site });
    const readings = Array.from({ length: (HOURS * 3600) / EVERY_S }, (_, k) => {
      const flags: Flag[] = k % 23 === 5 ? ['clipped'] : k % 9 === 2 ? ['below-noise-floor'] : [];
      const made = madeReading(k * EVERY_S, 1 + ((k * 7919) % 101) / 17, { nodeId, flags });
      // An hour without a node, and a minute with spoilt readings only.
      return k > 1000 && k < 1212
        ? null
        : { ...made, flags: k >= 2000 && k < 2004 ? (['stuck'] as Flag[]) : flags };
    }).filter((one) => one !== null);
    for (let at = 0; at < readings.length; at += 700) await store.commit(readings.slice(at, at + 700), at);
    expect(await store.delivered(30_000)).toBe(true);
    const [there, here] = [openInfluxReader(influx!, site), openReadingReader(file)];
    const sameSeries = async (query: SeriesQuery) => {
      const [ours, wanted] = [await there.series(query), await here.series(query)];
      expect(ours.timeMs).toEqual(wanted.timeMs);
      expect(ours.count).toEqual(wanted.count);
      expect(ours.flagged).toEqual(wanted.flagged);
      for (const column of ['value', 'minimum', 'maximum'] as const) {
        for (const [i, value] of wanted[column].entries()) {
          if (value === null) expect(ours[column][i]).toBeNull();
          else expect(Math.abs(ours[column][i]! / value - 1)).toBeLessThan(1e-6);
        }
      }
    };
    await fc.assert(
      fc.asyncProperty(
        fc.constantFrom<SeriesQuery['value']>('velocityRmsMmPerS', 'accelerationPeakMPerS2', 'kurtosis'),
        fc.constantFrom<SeriesQuery['axis']>('x', 'y', 'highest', 'z'),
        fc.integer({ min: -3600_000, max: HOURS * 3600_000 }),
        fc.integer({ min: 1, max: 40 * 3600_000 }),
        fc.integer({ min: 1, max: 120 }),
        async (value, axis, from, length, maxPoints) => {
          const fromMs = BEGIN_MS + from;
          await sameSeries({
            sensor: { nodeId, sensor: 0 },
            value,
            axis,
            fromMs,
            toMs: fromMs + length,
            maxPoints,
          });
        },
      ),
      { numRuns: 40, seed: 7, endOnFailure: true },
    );
    await here.close();
    await store.close();
  }, 300_000);
});
