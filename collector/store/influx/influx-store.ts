import type { CollectorError } from '../../errors.ts';
import type { ReadingStore } from '../reading-store.ts';
import { DEFAULT_RETENTION } from '../retention.ts';
import { openSqliteStore, type SqliteStoreOptions } from '../sqlite-store.ts';
import { startAnnouncer } from './announcer.ts';
import { createInfluxClient } from './client.ts';
import { startCourier } from './courier.ts';
import { createExpiry } from './expiry.ts';
import { type RemoteReader, readerOf } from './influx-reader.ts';
import { createLevelTeller, type LevelSource, type Told } from './level-teller.ts';
import { type DeliveryCount, type Outbox, openOutbox } from './outbox.ts';
import type { Place } from './place-points.ts';
import type { MountLookup } from './send-batch.ts';
import { type CheckedInflux, checkInflux, type InfluxSettings } from './settings.ts';

export interface InfluxStoreOptions extends SqliteStoreOptions {
  site: string;
  mountOf?: MountLookup;
  /** What the site has, to be told to the database; absent: it is not told. */
  places?: () => Place[];
  /** What its runs came to; told where places are. */
  levels?: LevelSource;
  /** Told of what an operator should know. */
  log?: { info(message: string): void; warn(message: string): void };
}

interface DeliveryState extends Record<DeliveryCount, number> {
  /** Readings, minutes and hours that are not in the database yet. */
  waiting: number;
  /** Why delivery stands still; null while it goes on. */
  problem: CollectorError | null;
}

/** A store whose readings end in InfluxDB. */
export interface InfluxStore extends ReadingStore {
  delivery(): DeliveryState;
  /** Settles when all that was committed is in the database: true; false when `timeoutMs` passes first. */
  delivered(timeoutMs: number): Promise<boolean>;
}

/** So long a question waits for what was committed just before it. */
const DELIVER_BEFORE_READING_MS = 3000;
const DAY_MS = 86_400_000;

/**
 * Commits to the readings file of the station and carries every reading, minute and hour from there to InfluxDB.
 *
 * The file does what a database elsewhere cannot: readings, journal position and state commit in one transaction,
 * a second is counted once, minutes and hours are rolled up, whether the network is there or not. It is also the
 * spool: a row is kept until it was delivered, as far as the disk budget (`retention.maxBytes`) reaches; beyond it
 * the oldest seconds go first, undelivered ones are counted as `dropped`, and their minutes and hours still arrive.
 */
export async function openInfluxStore(
  file: string,
  settings: InfluxSettings,
  options: InfluxStoreOptions,
): Promise<InfluxStore> {
  const { site, mountOf, places, levels, log, ...sqlite } = options;
  const checked = checkInflux(settings);
  const client = createInfluxClient(checked);
  const local = await openSqliteStore(file, sqlite);
  const outbox = openOutbox(file);
  const reader = readerOf(client, site);
  const { secondsDays } = { ...DEFAULT_RETENTION, ...sqlite.retention };
  let problem: CollectorError | null = null;
  let rejected = 0;

  const courier = startCourier(
    outbox,
    { client, site, knowsFlux: !checked.writeOnly, ...(mountOf ? { mountOf } : {}) },
    {
      problem(error) {
        if (error === null) log?.info('InfluxDB takes readings again');
        else if (problem?.message !== error.message) log?.warn(`${error.message}. ${error.remedy}`);
        problem = error;
      },
      rejected(count, reason) {
        if (rejected === 0) log?.warn(`InfluxDB refused ${count} of the rows it was sent: ${reason}`);
        rejected += count;
      },
    },
  );
  courier.wake();
  const expiry = createExpiry(client, site, checked.keepDays, (error) =>
    log?.warn(`old readings could not be deleted. ${error.message}. ${error.remedy}`),
  );

  const announcer =
    places &&
    startAnnouncer({
      client,
      site,
      places,
      lookFurther: levels && createLevelTeller(client, site, levels, toldOf(checked, outbox)),
      failed: (error) =>
        log?.warn(
          `assets, locations and levels of runs could not be told to InfluxDB. ${error.message}. ${error.remedy}`,
        ),
    });

  /** What was committed is to be seen: it is sent before it is asked for. */
  async function asked<T>(question: (reader: RemoteReader) => Promise<T>): Promise<T> {
    if (checked.writeOnly) return question(local);
    if (!(await courier.drained(DELIVER_BEFORE_READING_MS)) && problem) throw problem;
    return question(reader);
  }

  return {
    commit: async (...batch) => {
      await local.commit(...batch);
      courier.wake();
    },
    journalPosition: local.journalPosition,
    pipelineState: local.pipelineState,
    // The newest reading of each sensor never leaves the file, so a station starts without its database.
    latest: local.latest,
    readings: (...span) => asked((r) => r.readings(...span)),
    series: (query) => asked((r) => r.series(query)),
    // Spectra stay in the station's file.
    spectrum: local.spectrum,
    nearestSpectrumMs: local.nearestSpectrumMs,
    async prune(nowMs) {
      expiry.tick(nowMs);
      const oldest = secondsDays === null ? null : outbox.oldestSecond();
      // What was not sent yet is kept longer than its time.
      return local.prune(
        oldest === null ? nowMs : Math.min(nowMs, oldest * 1000 + (secondsDays ?? 0) * DAY_MS),
      );
    },
    delivery: () => ({ ...outbox.counts(), waiting: outbox.waiting(), problem }),
    delivered: courier.drained,
    async close() {
      await announcer?.close();
      await courier.close();
      await expiry.idle();
      outbox.close();
      await local.close();
    },
  };
}

/** Another database has been told nothing yet. */
function toldOf({ url, org, hourBucket }: CheckedInflux, outbox: Outbox): Told {
  const what = JSON.stringify(['run levels', url, org, hourBucket]);
  return { get: () => outbox.told(what), set: (upTo) => outbox.noteTold(what, upTo) };
}
