import type { Reading } from '../model.ts';

/** A value that can be read back as a series. */
export type SeriesValue =
  | 'velocityRmsMmPerS'
  | 'accelerationRmsMPerS2'
  | 'accelerationPeakMPerS2'
  | 'crestFactor'
  | 'kurtosis';

export interface SensorKey {
  nodeId: string;
  sensor: number;
}

export interface SeriesQuery {
  sensor: SensorKey;
  value: SeriesValue;
  /** One axis, or the highest axis of each block. */
  axis: 'x' | 'y' | 'z' | 'single' | 'highest';
  fromMs: number;
  toMs: number;
  /** The span is cut into this many equal slots; slots without a reading are left out. */
  maxPoints: number;
}

/** Columns of equal length, oldest first. */
export interface Series {
  /** Middle of each slot. */
  timeMs: number[];
  /** Root mean square (velocity and acceleration RMS), largest (peak) or median of the unflagged readings. */
  value: (number | null)[];
  minimum: (number | null)[];
  maximum: (number | null)[];
  /** Readings in the slot, and how many of them carry a flag and are left out of the values. */
  count: number[];
  flagged: number[];
}

/** Read side of the store of readings: what the dashboard may use. */
export interface ReadingReader {
  /** Newest reading of each sensor. */
  latest(): Promise<Reading[]>;
  readings(sensor: SensorKey, fromMs: number, toMs: number): Promise<Reading[]>;
  series(query: SeriesQuery): Promise<Series>;
  close(): Promise<void>;
}

/** Store of readings. One writer (the collector). */
export interface ReadingStore extends ReadingReader {
  /**
   * Writes readings and the journal cursor in one transaction. A reading whose sensor and second are already
   * stored is left as it is, so that reading the journal again counts nothing twice.
   */
  commit(readings: Reading[], journalPosition: number): Promise<void>;
  /** Journal position of the last commit; 0 for a new store. */
  journalPosition(): Promise<number>;
}
