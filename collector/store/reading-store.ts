import type { AxisName } from '../../firmware-protocol/index.ts';
import type { BlockSpectrum, Reading } from '../model.ts';

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
   * `settling`, `unknown-scale`, `stuck` or `rattle`.
   */
  count: number[];
  flagged: number[];
}

/** Mean of the spectra kept within a span. */
export interface MeanSpectrum {
  /** Whole minutes that went in: the first one's beginning, the last one's end. */
  fromMs: number;
  toMs: number;
  /** Sound blocks (about a second each) that were averaged. */
  blocks: number;
  axes: readonly AxisName[];
  /** Number of the first band, counted as in dsp/twelfth-octaves.ts. */
  firstBand: number;
  /** Density of acceleration, (m/s²)² per Hz, per axis and band. */
  density: number[][];
}

/** Spectra are kept in the station's own file only. */
export interface SpectrumReader {
  /** Mean of the minutes that begin in [fromMs, toMs); null when none was kept. */
  spectrum(sensor: SensorKey, fromMs: number, toMs: number): Promise<MeanSpectrum | null>;
  /** Beginning of the kept minute that is nearest to a moment, within [fromMs, toMs); null when there is none. */
  nearestSpectrumMs(sensor: SensorKey, atMs: number, fromMs: number, toMs: number): Promise<number | null>;
}

/** Read side of the store of readings: what the dashboard may use. */
export interface ReadingReader extends SpectrumReader {
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
   *
   * The spectrum of a reading that is stored and is not left out of series goes into the mean of its minute, once.
   */
  commit(
    readings: Reading[],
    journalPosition: number,
    state?: StateRows,
    spectra?: readonly BlockSpectrum[],
  ): Promise<void>;
  /** Journal position of the last commit; 0 for a new store. */
  journalPosition(): Promise<number>;
  /** All rows of state as of the last commit. */
  pipelineState(): Promise<[key: string, json: string][]>;
  /** Deletes a small batch of what is kept no longer; true when more is left to delete. */
  prune(nowMs: number): Promise<boolean>;
}
