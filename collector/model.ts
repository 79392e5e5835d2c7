/** What the collector produces. Types only; imports nothing but the names of axes. */
import type { AxisName } from '../firmware-protocol/index.ts';

export type Flag =
  | 'clipped'
  | 'gap'
  | 'below-noise-floor'
  | 'band-not-covered'
  | 'settling'
  | 'unknown-scale'
  | 'stuck'
  | 'time-unknown'
  /** The sensor bangs in its clamp: what it reads is not the machine's. */
  | 'rattle';

/** Measured values of one axis over one block. Acceleration values have the block's mean removed. */
export interface AxisValues {
  axis: AxisName;
  /** Null while the filter settles, or when the scale is unknown. */
  velocityRmsMmPerS: number | null;
  /**
   * Expanded uncertainty of the velocity (k = 2, about 95 %): sensor, noise, band edges and chance. Null without a
   * velocity or a spectrum; absent in readings stored before it was kept.
   */
  velocityUncertaintyMmPerS?: number | null;
  accelerationRmsMPerS2: number | null;
  accelerationPeakMPerS2: number | null;
  crestFactor: number | null;
  /** Pearson's: 3 for Gaussian noise. Null for a constant signal. */
  kurtosis: number | null;
  /**
   * Mean acceleration, which the other values leave out: gravity along this axis. Null for a single axis (whose
   * direction is not known) and without a scale; absent in readings stored before it was kept.
   */
  meanMPerS2?: number | null;
}

/** The measured values of one block (about 1 s) of one sensor of one node. */
export interface Reading {
  nodeId: string;
  /** Number of the accelerometer on the board. */
  sensor: number;
  /** Event time of the block: the whole Unix second, in milliseconds, in which it begins. Unique per sensor. */
  startMs: number;
  durationS: number;
  /** Estimated true sample rate. */
  sampleRateHz: number;
  /** Velocity band really covered. */
  bandHz: [number, number];
  axes: AxisValues[];
  flags: Flag[];
  /** Largest expected error of `startMs`; null when the node has not exchanged time, absent when not stated. */
  timeUncertaintyMs?: number | null;
}

/** Spectrum of one block of one sensor, in twelfths of an octave (dsp/twelfth-octaves.ts). */
export interface BlockSpectrum {
  nodeId: string;
  sensor: number;
  /** That of the reading of the same block. */
  startMs: number;
  axes: AxisName[];
  /** Number of the first band. */
  firstBand: number;
  /** Density of acceleration, (m/s²)² per Hz, per axis and band. */
  density: Float64Array[];
}

/** Latest samples of one sensor, for a live picture. */
export interface LiveBlock {
  nodeId: string;
  sensor: number;
  startMs: number;
  sampleRateHz: number;
  axes: {
    axis: AxisName;
    /** Mean removed, m/s²; evenly spaced over the block, at most 1024 points (pairs of minimum and maximum). */
    waveformMPerS2: number[];
    /** Amplitude spectrum of acceleration, m/s² RMS, from 0 Hz in steps of `spectrumStepHz`; thinned by maximum. */
    spectrumMPerS2: number[];
  }[];
  spectrumStepHz: number;
}
