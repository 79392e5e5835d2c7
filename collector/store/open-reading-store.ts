import { existsSync } from 'node:fs';
import { dirname } from 'node:path';
import { CollectorError } from '../errors.ts';
import { type InfluxReader, openInfluxReader } from './influx/influx-reader.ts';
import { openInfluxStore } from './influx/influx-store.ts';
import type { LevelSource } from './influx/level-teller.ts';
import { stopOutbox } from './influx/outbox.ts';
import type { Place } from './influx/place-points.ts';
import type { MountLookup } from './influx/send-batch.ts';
import type { InfluxSettings } from './influx/settings.ts';
import { beginUse } from './integrity.ts';
import type { ReadingReader, ReadingStore } from './reading-store.ts';
import type { Retention } from './retention.ts';
import { openReadingReader } from './sqlite-reader.ts';
import { openSqliteStore } from './sqlite-store.ts';

/** Where readings end: in the station's own file, or beyond it in an InfluxDB. */
export type StoreChoice = { kind: 'sqlite' } | ({ kind: 'influx' } & InfluxSettings);

export interface ReadingStoreConfig {
  store?: StoreChoice;
  /** The SQLite file of readings; beside an InfluxDB it is what was not delivered yet, and the newest past. */
  readingsFile: string;
  site: string;
  retention?: Partial<Retention>;
}

export interface ReadingStoreDeps {
  log?: { info(message: string): void; warn(message: string): void };
  /** To tag points in InfluxDB with asset and location. */
  mountOf?: MountLookup;
  /** To tell InfluxDB which assets and locations the site has. */
  places?: () => Place[];
  /** To tell it what runs came to, condition by condition. */
  levels?: LevelSource;
}

/** Opens the store of readings as its one writer, after a check if it was not closed properly. */
export async function openReadingStore(
  config: ReadingStoreConfig,
  { log, mountOf, places, levels }: ReadingStoreDeps = {},
): Promise<ReadingStore> {
  const { store: choice = { kind: 'sqlite' }, readingsFile: file, site, retention = {} } = config;
  if (!existsSync(dirname(file))) throw new CollectorError('READINGS_FOLDER_MISSING', dirname(file));
  const endUse = beginUse(file, log);
  const store =
    choice.kind === 'influx'
      ? await openInfluxStore(file, choice, {
          site,
          retention,
          ...(log ? { log } : {}),
          ...(mountOf ? { mountOf } : {}),
          ...(places ? { places } : {}),
          ...(levels ? { levels } : {}),
        })
      : await openAlone(file, retention);
  return {
    ...store,
    async close() {
      await store.close();
      endUse();
    },
  };
}

async function openAlone(file: string, retention: Partial<Retention>): Promise<ReadingStore> {
  const store = await openSqliteStore(file, { retention });
  stopOutbox(file);
  return store;
}

/**
 * Reads what `openReadingStore` stores, in this or another process. While an InfluxDB does not answer, the
 * station's own file does: it holds what this station measured, as long as `retention` keeps it.
 */
export function openStationReader(
  config: Pick<ReadingStoreConfig, 'store' | 'readingsFile' | 'site'>,
  { log }: Pick<ReadingStoreDeps, 'log'> = {},
): ReadingReader {
  const { store: choice = { kind: 'sqlite' }, readingsFile, site } = config;
  const local = openReadingReader(readingsFile);
  if (choice.kind === 'sqlite' || choice.writeOnly) return local;
  const influx = openInfluxReader(choice, site);
  let away = false;

  async function ask<T>(remote: (reader: InfluxReader) => Promise<T>, own: () => Promise<T>): Promise<T> {
    try {
      const answer = await remote(influx);
      away = false;
      return answer;
    } catch (error) {
      if (!(error instanceof CollectorError) || error.code !== 'INFLUX_UNREACHABLE') throw error;
      if (!away) log?.warn(`${error.message}: answering from the station's own file meanwhile`);
      away = true;
      return own();
    }
  }

  return {
    latest: () => ask((r) => r.latest(), local.latest),
    readings: (...span) =>
      ask(
        (r) => r.readings(...span),
        () => local.readings(...span),
      ),
    series: (query) =>
      ask(
        (r) => r.series(query),
        () => local.series(query),
      ),
    spectrum: local.spectrum,
    nearestSpectrumMs: local.nearestSpectrumMs,
    async close() {
      await influx.close();
      await local.close();
    },
  };
}
