import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openInfluxStore } from '../../../../collector/store/influx/influx-store.ts';
import type { ReadingStore } from '../../../../collector/store/reading-store.ts';
import { readingStoreContract } from '../reading-store-contract.ts';
import { createDatabase, readerOfInfluxOne, settingsFor } from './influx-one.ts';
import { freshSite } from './influx-server.ts';
import { isInstalled, runInfluxOne, type ServerProcess } from './server-process.ts';

const installed = isInstalled('influxd');
const folder = mkdtempSync(join(tmpdir(), 'clampline-influx1-contract-'));
const sites = new Map<string, string>();
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

/** Readings are asked for in the database, after what was committed has arrived there. */
async function open(place: string): Promise<ReadingStore> {
  const site = sites.get(place) ?? freshSite();
  sites.set(place, site);
  const store = await openInfluxStore(join(folder, `${place}.sqlite`), settingsFor(server.url), { site });
  const reader = readerOfInfluxOne(server.url, site);
  const arrived = async () => expect(await store.delivered(60_000)).toBe(true);
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
  };
}

// What is written for an InfluxDB 2 is held by a real database and put together again by the code that reads one; only
// the questions themselves are in another language. Series are made by Flux, which this database does not know.
if (installed) readingStoreContract('points in an InfluxDB 1', open, 'readings');
else describe('points in an InfluxDB 1', () => it.skip('skipped: influxdb not installed', () => {}));
