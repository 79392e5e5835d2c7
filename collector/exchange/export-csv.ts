import { LEVELS, type LevelName } from '../store/influx/layout.ts';
import type { HistoryRows } from '../store/migration-copy.ts';
import { ADDED, type ReadingRow, readingOf, unpackAxes, VALUES } from '../store/reading-row.ts';
import type { SensorKey } from '../store/reading-store.ts';
import { axisIndex, type RollupRow, stretchAt } from '../store/rollup-row.ts';
import { csvLine, type PlaceName } from './csv-columns.ts';

export interface CsvContext {
  site: string;
  placeOf(sensor: SensorKey, atMs: number): PlaceName | null;
}

/** Lines of a batch of rows. */
export function csvOf(sensor: SensorKey, batch: HistoryRows, context: CsvContext): string {
  if (batch.level === 'second') {
    return batch.rows.map((row) => secondLines(sensor, row, context)).join('');
  }
  return batch.rows.map((row) => rollupLines(sensor, batch.level, row, context)).join('');
}

function placeCells(sensor: SensorKey, atMs: number, { site, placeOf }: CsvContext) {
  const place = placeOf(sensor, atMs);
  return [
    new Date(atMs).toISOString(),
    site,
    place?.asset,
    place?.location,
    sensor.nodeId,
    sensor.sensor,
  ] as const;
}

function secondLines(sensor: SensorKey, row: ReadingRow, context: CsvContext): string {
  const reading = readingOf(sensor.nodeId, sensor.sensor, row);
  const place = placeCells(sensor, reading.startMs, context);
  const uncertainty = reading.timeUncertaintyMs;
  const whole = [
    reading.flags.join(' '),
    reading.durationS,
    reading.sampleRateHz,
    ...reading.bandHz,
    uncertainty === null ? 'unknown' : uncertainty,
  ];
  return reading.axes
    .map((axis) =>
      csvLine([
        ...place,
        axis.axis,
        ...VALUES.map((name) => axis[name]),
        ...ADDED.map((name) => axis[name]),
        ...whole,
      ]),
    )
    .join('');
}

function rollupLines(
  sensor: SensorKey,
  level: 'minute' | 'hour',
  row: RollupRow,
  context: CsvContext,
): string {
  const place = placeCells(sensor, row.slot * LEVELS[level as LevelName].lengthS * 1000, context);
  return [...unpackAxes(row.axes), 'highest' as const]
    .map((axis) => {
      const index = axisIndex(row.axes, axis);
      const values = VALUES.flatMap((_, number) => {
        const { value, minimum, maximum } = stretchAt(row.packed, index, number);
        return [value, minimum, maximum];
      });
      return csvLine([...place, axis, row.count, row.flagged, ...values, level]);
    })
    .join('');
}
