import type { Comodulation } from './comodulation.ts';
import type { LineSize } from './defect-line.ts';
import type { Witness } from './witness.ts';

/** One location in one band. */
interface BandLevel {
  locationId: string;
  /** dB re 1 µm/s². Of what the noise adds, where quiet windows are marked. */
  levelDb: number;
  rmsMPerS2: number;
  /** Expanded uncertainty (twice the standard deviation), chance and sensor tolerance. */
  uncertaintyDb: number;
  /** The noise does not stand out here; the level is the most it can be. */
  atMost: boolean;
}

/** One band over all locations. */
export interface BandRow {
  nominalHz: number;
  fromHz: number;
  toHz: number;
  /** The noise is in this band: it takes part in the verdict. */
  standsOut: boolean;
  levels: BandLevel[];
  leaderId: string;
  /** Lead over the next location, with its expanded uncertainty. */
  leadDb: number;
  uncertaintyDb: number;
  /** Windows in which the leader is loudest. */
  windowsLed: number;
}

/** How two locations hang together where the noise stands out. Never says which comes first. */
export interface Connection {
  firstId: string;
  secondId: string;
  /** Waveform coherence per third octave and over all bands of the noise; only on one board. */
  coherence: { byBand: number[]; mean: number; chanceLimit: number } | null;
  /** Levels over time; only between boards. */
  comodulation: Comodulation | null;
  /** 'shared': one shows largely what the other shows. 'separate': it does not. 'unknown': cannot be told. */
  kind: 'shared' | 'partly' | 'separate' | 'unknown';
}

export type DoubtCode =
  | 'too-few-windows'
  | 'nothing-stands-out'
  | 'few-bands'
  | 'reversal-shared'
  | 'reversal-separate'
  | 'within-uncertainty'
  | 'line-unclear'
  | 'witnesses-differ';

export type NextMeasurementCode =
  | 'record-longer'
  | 'mark-noise'
  | 'vary-speed'
  | 'move-sensor'
  | 'swap-sensors'
  | 'one-board'
  | 'tap-path';

export interface Verdict {
  kind: 'leads' | 'not-clear';
  /** Null when not clear. */
  locationId: string | null;
  /** What decided: levels over the bands, or the size of the defect's line. */
  by: 'level' | 'defect-line' | 'both' | null;
  /** Where the lead is strongest, and how large it is there over the next location. */
  bandHz: [number, number] | null;
  leadDb: number | null;
  uncertaintyDb: number | null;
  againstId: string | null;
  windowsLed: number | null;
  windows: number;
  doubts: DoubtCode[];
  nextMeasurement: { code: NextMeasurementCode; text: string } | null;
  /** All of it in one sentence. */
  sentence: string;
}

export interface Comparison {
  windowS: number;
  /** Windows compared, counted from 0: the same for all locations. */
  windows: number[];
  quietWindows: number[];
  /** Expanded uncertainty of a difference by the sensors' tolerance alone, dB (largest pair). */
  toleranceDb: number;
  bands: BandRow[];
  connections: Connection[];
  level: Witness | null;
  defectLine: {
    frequencyHz: number;
    sizes: { locationId: string; carriers: LineSize[] }[];
    witness: Witness | null;
  } | null;
  verdict: Verdict;
  cautions: string[];
}

/** All but the verdict. */
export type Evidence = Omit<Comparison, 'verdict' | 'cautions'>;
