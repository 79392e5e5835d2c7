import type { LevelName } from './influx/layout.ts';
import type { ReadingRow } from './reading-row.ts';
import type { SensorKey } from './reading-store.ts';
import type { RollupRow } from './rollup-row.ts';

/** Rows of one sensor at one level, oldest first. */
export type HistoryRows =
  | { level: 'second'; rows: ReadingRow[] }
  | { level: 'minute' | 'hour'; rows: RollupRow[] };

/** Rows per day of UTC (days since 1970). */
export type DailyCounts = Map<number, number>;

/** One side of a copy. Hours count when they are over: the one that a sensor is in is not yet what it will be. */
export interface History {
  sensors(): Promise<SensorKey[]>;
  /** Rows that are over by `untilS`, seconds since 1970. */
  counts(level: LevelName, sensor: SensorKey, untilS: number): Promise<DailyCounts>;
}

export interface HistorySource extends History {
  /** Batches from a slot on (a second, a minute or an hour since 1970), oldest first. */
  rows(level: LevelName, sensor: SensorKey, fromSlot: number, untilS: number): AsyncIterable<HistoryRows>;
}

export interface HistoryTarget extends History {
  /** Writes rows that are not there yet; settles when they are durable. */
  put(sensor: SensorKey, rows: HistoryRows): Promise<void>;
  /** After the last rows of all sensors. */
  finish(): Promise<void>;
}

/** How far a copy is: the next slot of each sensor's level. */
export type Checkpoint = Record<string, number>;

export interface CopyOptions {
  /** What is not over by then, in seconds since 1970, is left out. */
  untilS: number;
  checkpoint: Checkpoint;
  /** Called after each batch that the target has taken. */
  save: (checkpoint: Checkpoint) => Promise<void>;
  onProgress: (progress: CopyProgress) => void;
}

export interface CopyProgress {
  doneRows: number;
  totalRows: number;
  level: LevelName;
  sensor: SensorKey;
}

export interface Difference {
  level: LevelName;
  sensor: SensorKey;
  /** Day of UTC, as 2026-05-01. */
  day: string;
  from: number;
  to: number;
}

/** Coarse levels first: a copy that is broken off has the long past already. */
const ORDER: readonly LevelName[] = ['hour', 'minute', 'second'];
const DAY_MS = 86_400_000;

/**
 * Copies all rows of all sensors, from where the checkpoint says on. Rows are known by sensor, level and slot on
 * both sides, so what is copied twice is there once.
 */
export async function copyHistory(
  from: HistorySource,
  to: HistoryTarget,
  { untilS, checkpoint, save, onProgress }: CopyOptions,
): Promise<void> {
  const sensors = await from.sensors();
  let totalRows = 0;
  for (const { level, sensor } of all(sensors)) totalRows += sum(await from.counts(level, sensor, untilS));
  let doneRows = 0;
  for (const { level, sensor } of all(sensors)) {
    const key = `${level} ${sensor.nodeId} ${sensor.sensor}`;
    const begin = checkpoint[key] ?? 0;
    const expected = sum(await from.counts(level, sensor, untilS));
    let copied = 0;
    for await (const batch of from.rows(level, sensor, begin, untilS)) {
      await to.put(sensor, batch);
      const last = batch.rows.at(-1)!;
      checkpoint[key] = ('second' in last ? last.second : last.slot) + 1;
      await save(checkpoint);
      copied += batch.rows.length;
      onProgress({ doneRows: Math.min(totalRows, doneRows + copied), totalRows, level, sensor });
    }
    // What an earlier run copied counts as done too.
    doneRows += Math.max(copied, expected);
    onProgress({ doneRows: Math.min(totalRows, doneRows), totalRows, level, sensor });
  }
  await to.finish();
}

/** Days on which the target does not have as many rows of a sensor as the source. */
export async function compareHistory(from: History, to: History, untilS: number): Promise<Difference[]> {
  const differences: Difference[] = [];
  for (const { level, sensor } of all(await from.sensors())) {
    const wanted = await from.counts(level, sensor, untilS);
    const found = await to.counts(level, sensor, untilS);
    for (const [day, count] of [...wanted].sort(([a], [b]) => a - b)) {
      const there = found.get(day) ?? 0;
      if (there === count) continue;
      differences.push({ level, sensor, day: dayText(day), from: count, to: there });
    }
  }
  return differences;
}

function* all(sensors: readonly SensorKey[]): Generator<{ level: LevelName; sensor: SensorKey }> {
  for (const level of ORDER) for (const sensor of sensors) yield { level, sensor };
}

function sum(counts: DailyCounts): number {
  let total = 0;
  for (const count of counts.values()) total += count;
  return total;
}

function dayText(day: number): string {
  return new Date(day * DAY_MS).toISOString().slice(0, 10);
}
