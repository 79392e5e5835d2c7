import type { Reading } from '../model.ts';
import type { LevelName } from '../store/influx/layout.ts';
import type { HistoryRows } from '../store/migration-copy.ts';
import { sqliteHistoryTarget } from '../store/migration-copy-sqlite.ts';
import type { ReadingStore, SensorKey } from '../store/reading-store.ts';
import type { RollupRow } from '../store/rollup-row.ts';
import { openSqliteStore } from '../store/sqlite-store.ts';
import type { Parsed } from './parsed.ts';

/** Read, and of these those that were not there yet. */
export type ImportCounts = Record<LevelName, { read: number; fresh: number }>;

const BATCH = 1000;

/**
 * Puts exported readings into the readings file of a stopped station. What is there already stays, so that importing
 * twice changes nothing; seconds are rolled up as if they had been measured here, and minutes and hours that tell more
 * than those there take their place. Throws CollectorError `IMPORT_UNREADABLE`; what came before it is kept.
 */
export async function importReadings(file: string, parsed: AsyncIterable<Parsed>): Promise<ImportCounts> {
  const counts: ImportCounts = {
    second: { read: 0, fresh: 0 },
    minute: { read: 0, fresh: 0 },
    hour: { read: 0, fresh: 0 },
  };
  const seconds = secondWriter(file, counts);
  const rollups = rollupWriter(file, counts);
  try {
    for await (const item of parsed) {
      counts[item.level].read++;
      if (item.level === 'second') await seconds.add(item.reading);
      else await rollups.add(item);
    }
  } finally {
    await seconds.close();
    await rollups.close();
  }
  return counts;
}

function secondWriter(file: string, counts: ImportCounts) {
  let store: ReadingStore | null = null;
  let batch: Reading[] = [];

  async function flush(): Promise<void> {
    if (batch.length === 0) return;
    store ??= await openSqliteStore(file);
    for (const own of bySensor(batch)) {
      const { nodeId, sensor } = own[0]!;
      const times = own.map(({ startMs }) => startMs);
      const span = [Math.min(...times), Math.max(...times) + 1000] as const;
      const before = new Set((await store.readings({ nodeId, sensor }, ...span)).map((one) => one.startMs));
      counts.second.fresh += new Set(times.filter((startMs) => !before.has(startMs))).size;
    }
    // The journal of this station has nothing to do with it.
    await store.commit(batch, await store.journalPosition());
    batch = [];
  }

  return {
    async add(reading: Reading): Promise<void> {
      batch.push(reading);
      if (batch.length >= BATCH) await flush();
    },
    async close(): Promise<void> {
      await flush();
      await store?.close();
    },
  };
}

function bySensor(readings: readonly Reading[]): Reading[][] {
  const groups = new Map<string, Reading[]>();
  for (const reading of readings) {
    const key = `${reading.nodeId} ${reading.sensor}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [reading]);
    else group.push(reading);
  }
  return [...groups.values()];
}

function rollupWriter(file: string, counts: ImportCounts) {
  let target: ReturnType<typeof sqliteHistoryTarget> | null = null;
  let batch: { level: 'minute' | 'hour'; sensor: SensorKey; rows: RollupRow[] } | null = null;
  /** Rows that were there, by level and sensor. */
  const before = new Map<string, { level: 'minute' | 'hour'; sensor: SensorKey; rows: number }>();

  async function flush(): Promise<void> {
    if (batch === null) return;
    const { level, sensor, rows } = batch;
    target ??= sqliteHistoryTarget(file);
    const key = `${level} ${sensor.nodeId} ${sensor.sensor}`;
    if (!before.has(key)) before.set(key, { level, sensor, rows: await rowsOf(level, sensor) });
    await target.put(sensor, { level, rows } satisfies HistoryRows);
    batch = null;
  }

  async function rowsOf(level: LevelName, sensor: SensorKey): Promise<number> {
    let rows = 0;
    for (const count of (await target!.counts(level, sensor, Number.MAX_SAFE_INTEGER)).values())
      rows += count;
    return rows;
  }

  return {
    async add({ level, sensor, row }: Exclude<Parsed, { level: 'second' }>): Promise<void> {
      const same =
        batch?.level === level &&
        batch.sensor.nodeId === sensor.nodeId &&
        batch.sensor.sensor === sensor.sensor &&
        batch.rows.length < BATCH;
      if (!same) await flush();
      batch ??= { level, sensor, rows: [] };
      batch.rows.push(row);
    },
    async close(): Promise<void> {
      await flush();
      if (target === null) return;
      await target.finish();
      for (const { level, sensor, rows } of before.values()) {
        counts[level].fresh += (await rowsOf(level, sensor)) - rows;
      }
      target.close();
    },
  };
}
