import type { LevelName } from '../store/influx/layout.ts';
import { linesOf, type MountLookup } from '../store/influx/send-batch.ts';
import type { HistoryRows, HistorySource } from '../store/migration-copy.ts';
import type { SensorKey } from '../store/reading-store.ts';
import { COLUMNS, csvLine } from './csv-columns.ts';
import { type CsvContext, csvOf } from './export-csv.ts';

export type ExportFormat = 'csv' | 'line';

/** A sensor in a span of whole seconds, `untilS` not in it any more. */
export interface ExportPart {
  sensor: SensorKey;
  fromS: number;
  untilS: number;
}

export interface ExportOptions extends CsvContext {
  format: ExportFormat;
  level: LevelName;
  /** Asset and location by their numbers: the tags that the same readings have in a database. */
  mountOf: MountLookup;
  /** Called with the rows written so far. */
  onRows?(rows: number, part: number): void;
}

const LENGTH_S: Record<LevelName, number> = { second: 1, minute: 60, hour: 3600 };

/** Stored readings as text, a piece for each batch of rows read; part after part, each oldest first. */
export async function* exportReadings(
  source: HistorySource,
  parts: readonly ExportPart[],
  options: ExportOptions,
): AsyncGenerator<string> {
  const { format, level, onRows } = options;
  if (format === 'csv') yield csvLine(COLUMNS[level]);
  let rows = 0;
  for (const [number, { sensor, fromS, untilS }] of parts.entries()) {
    const fromSlot = Math.ceil(fromS / LENGTH_S[level]);
    for await (const batch of source.rows(level, sensor, fromSlot, untilS)) {
      yield format === 'csv' ? csvOf(sensor, batch, options) : lineProtocolOf(sensor, batch, options);
      rows += batch.rows.length;
      onRows?.(rows, number);
    }
  }
}

/** Rows that `exportReadings` will write, to tell how far it is. */
export async function countRows(
  source: HistorySource,
  parts: readonly ExportPart[],
  level: LevelName,
): Promise<number> {
  let count = 0;
  for (const { sensor, fromS, untilS } of parts) {
    const days = await source.counts(level, sensor, untilS);
    for (const [day, rows] of days) {
      const share = Math.min(1, Math.max(0, ((day + 1) * 86_400 - fromS) / 86_400));
      count += rows * share;
    }
  }
  return Math.round(count);
}

function lineProtocolOf(
  { nodeId, sensor }: SensorKey,
  batch: HistoryRows,
  { site, mountOf }: ExportOptions,
): string {
  const lines =
    batch.level === 'second'
      ? batch.rows.flatMap((row) => linesOf({ nodeId, sensor, level: 'second', row }, { site, mountOf }))
      : batch.rows.flatMap((row) => linesOf({ nodeId, sensor, level: batch.level, row }, { site, mountOf }));
  return lines.length === 0 ? '' : `${lines.join('\n')}\n`;
}
