/** A look at a stretch of samples of one sensor: question and answer. Types only; both pass between threads. */
import type { AxisName } from '../../firmware-protocol/index.ts';
import type { BearingVerdict, Finding } from '../analysis/index.ts';
import type { Span } from '../capture/capture.ts';
import type { BearingMultipliers, RunningGearPair } from '../drivetrain/index.ts';
import type { SensorKey } from '../store/reading-store.ts';

export interface SpanQuestion {
  journalDir: string;
  sensor: SensorKey;
  span: Span;
  /** Of the picture. */
  title: string;
  /** Mean speed of the shaft, turns per second. */
  shaftHz?: number;
  /** The same over event time, where it varies. */
  speed?: { timeMs: number[]; hz: number[] };
  bearing?: BearingMultipliers;
  gears: RunningGearPair[];
  /** Lines of other shafts, which no bearing is accused of. */
  otherLinesHz: number[];
}

export interface SpanAnswer {
  startMs: number;
  durationS: number;
  sampleRateHz: number;
  /** The axis that says most. */
  axis: AxisName;
  /** Its findings; chances are over all axes searched. */
  findings: Finding[];
  verdict: BearingVerdict;
  reason: string;
  /** Spectrum and envelope with the lines marked: a self-contained SVG. */
  pictureSvg: string;
}
