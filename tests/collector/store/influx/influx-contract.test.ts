import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { openInfluxReader } from '../../../../collector/store/influx/influx-reader.ts';
import { openInfluxStore } from '../../../../collector/store/influx/influx-store.ts';
import type { ReadingStore } from '../../../../collector/store/reading-store.ts';
import { readingStoreContract } from '../reading-store-contract.ts';
import { freshSite, influxOfEnvironment, NO_INFLUX } from './influx-server.ts';

const influx = influxOfEnvironment();
const folder = mkdtempSync(join(tmpdir(), 'clampline-influx-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Every question goes to the database, in Flux, after what was committed has arrived there. */
async function openThroughDatabase(place: string, site: string): Promise<ReadingStore> {
  const store = await openInfluxStore(join(folder, `${place}.sqlite`), influx!, { site });
  const reader = openInfluxReader(influx!, site);
  const arrived = async () => expect(await store.delivered(20_000)).toBe(true);
  return {
    ...store,
    latest: async () => {
      await arrived();
      return reader.latest();
    },
    readings: async (...span) => {
      await arrived();
      return reader.readings(...span);
    },
    series: async (query) => {
      await arrived();
      return reader.series(query);
    },
  };
}

if (influx === null) {
  describe('InfluxDB: store of readings', () => {
    it.skip(`${NO_INFLUX}: the contract of every store of readings`, () => {});
  });
} else {
  const sites = new Map<string, string>();
  readingStoreContract('InfluxDB', async (place) => {
    const site = sites.get(place) ?? freshSite();
    sites.set(place, site);
    return openThroughDatabase(place, site);
  });
}
