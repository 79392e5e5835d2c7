import type { AxisName } from '../../firmware-protocol/index.ts';
import type { Span } from '../capture/capture.ts';
import { endMs } from '../capture/stretches.ts';
import { amplitudeSpectrum } from '../dsp/spectrum.ts';
import { cutPlaces, needAxis, type Source } from './source.ts';

export interface PictureQuestion {
  /** Holds one place. */
  source: Source;
  span: Span;
  /** Default: all axes together (root of the sum of squares). */
  axis?: AxisName;
}

/** A spectrogram for a screen. */
export interface SpectrogramPicture {
  startMs: number;
  columnMs: number;
  columns: number;
  rows: number;
  /** Frequency step between rows, from 0 Hz up. */
  stepHz: number;
  /** Level of byte b: `lowDb` + b x `stepDb`, dB re 1 µm/s² RMS; byte 0: no samples, or below all others. */
  lowDb: number;
  stepDb: number;
  /** Column after column, lowest row first. */
  levels: Uint8Array;
  unit: 'dB re 1 µm/s²';
  gaps: Span[];
}

const MOST_COLUMNS = 480;
const MOST_ROWS = 256;
const STEP_DB = 0.5;
/** A column shorter than this has rows too far apart. */
const LEAST_COLUMN_MS = 50;
const REFERENCE_M_PER_S2 = 1e-6;

/**
 * Level over time and frequency. Each column is the largest amplitude that any stretch of its time shows in each row,
 * so a short knock is not averaged away.
 *
 * @throws RangeError when nothing was recorded in the span
 */
export async function spectrogramPicture({
  source,
  span,
  axis,
}: PictureQuestion): Promise<SpectrogramPicture> {
  const [place] = await cutPlaces(source, [span]);
  if (place === undefined || place.stretches.length === 0)
    throw new RangeError('no samples were recorded in this span');
  needAxis(place, axis);
  const rateHz = Math.max(...place.stretches.map(({ sampleRateHz }) => sampleRateHz));
  const segment = 2 ** Math.round(Math.log2(Math.max(256, Math.min(4096, rateHz / 12))));
  const columnMs = Math.max(LEAST_COLUMN_MS, (span.toMs - span.fromMs) / MOST_COLUMNS);
  const columns = Math.max(1, Math.ceil((span.toMs - span.fromMs) / columnMs));
  // No more rows than lines: between two lines there would be empty ones.
  const rows = Math.min(MOST_ROWS, segment / 2);
  const stepHz = rateHz / 2 / rows;
  const power = new Float64Array(columns * rows);
  for (const stretch of place.stretches) {
    const chosen = stretch.samples.filter((_, i) => axis === undefined || stretch.axes[i] === axis);
    if (chosen.length === 0) continue;
    const scale = (stretch.fullScaleMPerS2 || 32768) / 32768;
    const stepSamples = Math.max(
      1,
      Math.floor(Math.min(segment / 2, (columnMs / 1000) * stretch.sampleRateHz)),
    );
    for (let at = 0; at + segment <= chosen[0]!.length; at += stepSamples) {
      const middleMs = stretch.startMs + (1000 * (at + segment / 2)) / stretch.sampleRateHz;
      const column = Math.floor((middleMs - span.fromMs) / columnMs);
      if (column < 0 || column >= columns) continue;
      addColumn(power, { column, rows, stepHz }, chosen, at, segment, stretch.sampleRateHz, scale);
    }
    if (endMs(stretch) < span.fromMs) break;
  }
  return {
    startMs: span.fromMs,
    columnMs,
    columns,
    rows,
    stepHz,
    ...quantise(power),
    gaps: place.gaps,
  };
}

function addColumn(
  power: Float64Array,
  { column, rows, stepHz }: { column: number; rows: number; stepHz: number },
  axes: readonly ArrayLike<number>[],
  at: number,
  segment: number,
  rateHz: number,
  scale: number,
): void {
  const sum = new Float64Array(rows);
  for (const samples of axes) {
    const piece = Float64Array.from({ length: segment }, (_, i) => samples[at + i]! * scale);
    const mean = piece.reduce((total, value) => total + value, 0) / segment;
    for (let i = 0; i < segment; i++) piece[i]! -= mean;
    const { amplitudeRms } = amplitudeSpectrum(piece, rateHz, { window: 'hann' });
    const perRow = stepHz / (rateHz / segment);
    for (let row = 0; row < rows; row++) {
      // Largest line of the row; where lines are wider than rows, the one that covers it, so that no row stays empty.
      const first = Math.max(1, Math.round(row * perRow));
      const last = Math.max(first, Math.round((row + 1) * perRow) - 1);
      let largest = 0;
      for (let k = first; k <= last && k < amplitudeRms.length; k++)
        largest = Math.max(largest, amplitudeRms[k]! ** 2);
      sum[row] = Math.max(sum[row]!, largest);
    }
  }
  for (let row = 0; row < rows; row++) {
    const slot = column * rows + row;
    power[slot] = Math.max(power[slot]!, sum[row]!);
  }
}

function quantise(power: Float64Array): Pick<SpectrogramPicture, 'lowDb' | 'stepDb' | 'levels' | 'unit'> {
  let highest = 0;
  for (const value of power) highest = Math.max(highest, value);
  const highDb = highest > 0 ? 10 * Math.log10(highest / REFERENCE_M_PER_S2 ** 2) : 0;
  const lowDb = highDb - 254 * STEP_DB;
  const levels = Uint8Array.from(power, (value) => {
    if (value <= 0) return 0;
    const db = 10 * Math.log10(value / REFERENCE_M_PER_S2 ** 2);
    return Math.max(1, Math.min(255, Math.round((db - lowDb) / STEP_DB)));
  });
  return { lowDb, stepDb: STEP_DB, levels, unit: 'dB re 1 µm/s²' };
}
