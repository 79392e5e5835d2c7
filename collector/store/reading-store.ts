import type { Reading } from '../model.ts';

/** A value that can be read back as a series. */
type SeriesValue =
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
  /**
   * Root mean square (velocity and acceleration RMS), largest (peak) or median (crest factor, kurtosis) of the
   * readings that are not left out. In slots of a minute and more the median is that of the minutes' medians (of
   * the hours', in slots of an hour and more), and a whole minute or hour counts to the slot in which its middle lies.
   */
  value: (number | null)[];
  minimum: (number | null)[];
  maximum: (number | null)[];
  /**
   * Readings in the slot, and how many of them are left out of the values: those flagged `clipped`, `gap`,
   * `settling`, `unknown-scale` or `stuck`.
   */
  count: number[];
  flagged: number[];
}

/** Read side of the store of readings: what the dashboard may use. */
export interface ReadingReader {
  /** Newest reading of each sensor. */
  latest(): Promise<Reading[]>;
  /** Readings that begin in [fromMs, toMs), oldest first. */
  readings(sensor: SensorKey, fromMs: number, toMs: number): Promise<Reading[]>;
  series(query: SeriesQuery): Promise<Series>;
  close(): Promise<void>;
}

/** Rows of state that belong to a journal position: to write, and keys to delete. */
export interface StateRows {
  set: [key: string, json: string][];
  remove: string[];
}

/** Store of readings. One writer (the collector). */
export interface ReadingStore extends ReadingReader {
  /**
   * Writes readings, the journal cursor and the state that belongs to it in one transaction. A reading whose sensor
   * and second are already stored is left as it is, so that reading the journal again counts nothing twice; only a
   * stored reading flagged `gap`, `settling` or `time-unknown` gives way to one with none of these, which is how a
   * backlog that arrives late completes what was measured without it.
   */
  commit(readings: Reading[], journalPosition: number, state?: StateRows): Promise<void>;
  /** Journal position of the last commit; 0 for a new store. */
  journalPosition(): Promise<number>;
  /** All rows of state as of the last commit. */
  pipelineState(): Promise<[key: string, json: string][]>;
  /** Deletes a small batch of what is kept no longer; true when more is left to delete. */
  prune(nowMs: number): Promise<boolean>;
}
