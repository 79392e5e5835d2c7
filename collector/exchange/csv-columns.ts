import type { LevelName } from '../store/influx/layout.ts';
import { ADDED_FIELDS, VALUE_FIELDS } from '../store/influx/layout.ts';

/**
 * Columns of readings in CSV (RFC 4180, UTF-8, a header line, decimal points). A line is one axis of one reading, or
 * of one minute or hour; those of one time follow one another. Values have the names that they have in line protocol.
 */
const PLACE = ['time', 'site', 'asset', 'location', 'node', 'sensor', 'axis'] as const;

/** Of one second. The mean is gravity along the axis; the uncertainty is that of the velocity. */
const SECOND = [
  ...PLACE,
  ...VALUE_FIELDS,
  ...ADDED_FIELDS,
  'flags',
  'duration_s',
  'sample_rate_hz',
  'band_low_hz',
  'band_high_hz',
  'time_uncertainty_ms',
] as const;

/** Of minutes and hours; the axis `highest` is the highest axis of each reading. */
const ROLLUP = [
  ...PLACE,
  'count',
  'flagged',
  ...VALUE_FIELDS.flatMap((name) => [name, `${name}_min`, `${name}_max`]),
] as const;

export const COLUMNS: Record<LevelName, readonly string[]> = {
  second: SECOND,
  minute: [...ROLLUP, 'level'],
  hour: [...ROLLUP, 'level'],
};

/** Where a sensor was clamped, as a person calls it. */
export interface PlaceName {
  asset: string;
  location: string;
}

/** One line; what has a comma, quote or line break in it is quoted. */
export function csvLine(cells: readonly (string | number | null | undefined)[]): string {
  return `${cells.map(cell).join(',')}\r\n`;
}

function cell(value: string | number | null | undefined): string {
  if (value === null || value === undefined) return '';
  if (typeof value === 'number') return Number.isNaN(value) ? '' : shortest(value);
  // A spreadsheet would take a name that begins so for a formula.
  const text = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** The fewest digits that come back as the same stored 32-bit number; whole numbers as they are. */
function shortest(value: number): string {
  if (Number.isInteger(value)) return String(value);
  for (let digits = 6; digits < 9; digits++) {
    const rounded = Number(value.toPrecision(digits));
    if (Math.fround(rounded) === Math.fround(value)) return String(rounded);
  }
  return String(Number(value.toPrecision(9)));
}
