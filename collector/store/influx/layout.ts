/**
 * How readings lie in InfluxDB.
 *
 * | measurement  | one point is                                          | time        |
 * |--------------|-------------------------------------------------------|-------------|
 * | `reading_1s` | one axis of one reading                               | its second  |
 * | `reading_1m` | one axis over one minute, made by the station         | its minute  |
 * | `reading_1h` | one axis over one hour, made by the station           | its hour    |
 *
 * Tags: `site`, `node`, `sensor`, `axis` (x, y, z, single, or `highest`: the highest axis of each reading), and,
 * where the station knew the mount when it wrote, `asset` and `location`.
 *
 * A point is known by measurement, tags and time, so writing it again changes nothing. Nothing that can change for
 * a second may therefore be a tag: flags are fields.
 */
import type { ADDED, VALUES } from '../reading-row.ts';

export type LevelName = 'second' | 'minute' | 'hour';

export const LEVELS: Record<LevelName, { measurement: string; lengthS: number }> = {
  second: { measurement: 'reading_1s', lengthS: 1 },
  minute: { measurement: 'reading_1m', lengthS: 60 },
  hour: { measurement: 'reading_1h', lengthS: 3600 },
};

/** Field names of VALUES, in their order. */
export const VALUE_FIELDS = [
  'velocity_rms_mm_s',
  'acceleration_rms_m_s2',
  'acceleration_peak_m_s2',
  'crest_factor',
  'kurtosis',
] as const satisfies readonly string[] & { length: (typeof VALUES)['length'] };

/**
 * Field names of ADDED, in their order: gravity along the axis (the mean that the other values leave out), and the
 * expanded uncertainty of the velocity. Only on the points of seconds: neither adds up to minutes. On those of the
 * highest axis the uncertainty is that of the axis with the highest velocity, and there is no mean.
 */
export const ADDED_FIELDS = [
  'mean_m_s2',
  'velocity_uncertainty_mm_s',
] as const satisfies readonly string[] & {
  length: (typeof ADDED)['length'];
};

/**
 * Suffixes of the value fields.
 *
 * Seconds: the plain field is there only when the reading counts in series and rollups; what is left out of them
 * has its values under `leftOut`, so that a plain average in any tool is already right.
 * Minutes and hours: value, `minimum` and `maximum`; for values that combine by energy also the sum of squares and
 * the number of readings in it, so that the database can add stretches up exactly.
 */
export const SUFFIX = {
  leftOut: '_left_out',
  minimum: '_min',
  maximum: '_max',
  squareSum: '_square_sum',
  used: '_used',
} as const;

/** Numbers of the values that combine by energy (mean square). */
export const ENERGY_VALUES: readonly number[] = [0, 1];
/** Number of the value that combines by the largest. */
export const LARGEST_VALUE = 2;

/** Fields that are not values. */
export const FIELD = {
  /** 1 when the reading is left out of series and rollups, else 0; on every point of a second. */
  leftOut: 'left_out',
  /** Readings in a minute or hour, and how many of them are left out. */
  count: 'count',
  flagged: 'flagged',
  // The rest only on the point of axis `highest`: they are of the whole reading.
  /** Names joined by commas. */
  axes: 'axes',
  flags: 'flags',
  durationS: 'duration_s',
  sampleRateHz: 'sample_rate_hz',
  bandLowHz: 'band_low_hz',
  bandHighHz: 'band_high_hz',
  /** Largest expected error of the time; UNCERTAINTY when there is none. */
  timeUncertaintyMs: 'time_uncertainty_ms',
  /** How many of ADDED_FIELDS the reading keeps, a value of none included; absent in points of earlier versions. */
  added: 'added_values',
} as const;

/** A field cannot be taken away by writing a point again, so these stand for "no number". */
export const UNCERTAINTY = { notStated: -1, timeUnknown: -2 } as const;

export const HIGHEST = 'highest';

export function joinNames(names: readonly string[]): string {
  return names.join(',');
}

export function splitNames<T extends string>(text: string): T[] {
  return text === '' ? [] : (text.split(',') as T[]);
}
