/** Raw samples of some sensors over a span of event time. Types only. */
import type { AxisName } from '../../firmware-protocol/index.ts';
import type { SensorKey } from '../store/reading-store.ts';

/** Half-open span of event time, Unix ms. */
export interface Span {
  fromMs: number;
  toMs: number;
}

/** Samples without a hole and without a seam: one boot, one setting, counters one after the other. */
export interface CaptureStretch {
  /** Event time of the first sample. */
  startMs: number;
  /** Mean true rate over the stretch, in samples per second of station time. */
  sampleRateHz: number;
  /** Largest expected error of `startMs` against station time; null: the node had not exchanged time. */
  timeUncertaintyMs: number | null;
  /** Value of a raw 32768, m/s²; 0: the node does not know it. */
  fullScaleMPerS2: number;
  axes: AxisName[];
  /** One array per axis. Value in m/s² = sample / 32768 x `fullScaleMPerS2`; floats where a file held them. */
  samples: (Int16Array | Float32Array)[];
  /** Where the sensor was driven out of its range, to the packet. */
  clipped: Span[];
}

export interface SensorCapture extends SensorKey {
  /** In order of time; they do not overlap. */
  stretches: CaptureStretch[];
  /** Parts of the spans asked for without samples. */
  gaps: Span[];
}

export interface Capture {
  spans: Span[];
  sensors: SensorCapture[];
  /** Journal bytes that could not be read: damaged, or removed by retention. */
  lostBytes: number;
}

export class CaptureError extends Error {
  readonly code: 'CAPTURE_TOO_LARGE' | 'CAPTURE_EMPTY';
  readonly remedy: string;
  constructor(code: CaptureError['code'], message: string, remedy: string) {
    super(message);
    this.name = 'CaptureError';
    this.code = code;
    this.remedy = remedy;
  }
}
