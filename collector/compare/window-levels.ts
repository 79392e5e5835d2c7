import { type Density, welch } from '../dsp/spectrum.ts';
import { type LocationRecord, strongestAxis } from './question.ts';

/** Spectra of one location, window by window. */
export interface WindowSpectra {
  /** One per window; the axes added up, so that turning a sensor changes nothing. */
  densities: Density[];
  /** Segments averaged per window. */
  segments: number;
}

/** Half a window per segment: lines 2 Hz apart at 1 s, and three averages a window. */
const SEGMENTS_PER_WINDOW = 2;
/** A band must hold this many lines, or it takes in too much of its neighbours. */
const LINES_PER_BAND = 2.5;

function lineSpacingHz(windowS: number): number {
  return SEGMENTS_PER_WINDOW / windowS;
}

/** Lowest frequency from which third octaves are wide enough for lines this far apart. */
export function lowestBandHz(windowS: number): number {
  const widthPerMiddle = 10 ** (1 / 20) - 10 ** (-1 / 20);
  return (LINES_PER_BAND * lineSpacingHz(windowS)) / widthPerMiddle;
}

/**
 * Power spectral density of each whole window, axes added up. Levels of records with different numbers of axes are
 * not alike: `strongestAxisOnly` takes the axis with the most power over the record instead.
 */
export function windowSpectra(
  record: LocationRecord,
  windows: number,
  windowS: number,
  strongestAxisOnly: boolean,
): WindowSpectra {
  const { sampleRateHz } = record;
  const length = Math.round((windowS * sampleRateHz) / SEGMENTS_PER_WINDOW);
  const axes = strongestAxisOnly ? [strongestAxis(record)] : record.axes;
  let segments = 0;
  const densities = Array.from({ length: windows }, (_, w): Density => {
    const from = Math.round(w * windowS * sampleRateHz);
    const to = Math.min(axes[0]!.length, Math.round((w + 1) * windowS * sampleRateHz));
    let sum: Density | null = null;
    for (const samples of axes) {
      const one = welch(samples.subarray(from, to), sampleRateHz, { segmentSamples: length });
      if (sum === null) sum = one;
      else for (let k = 0; k < one.density.length; k++) sum.density[k]! += one.density[k]!;
    }
    segments = sum!.segments;
    return sum!;
  });
  return { densities, segments };
}

/** Mean density over some windows. */
export function meanDensity({ densities }: WindowSpectra, windows: readonly number[]): Density {
  const first = densities[windows[0]!]!;
  const density = new Float64Array(first.density.length);
  for (const w of windows) {
    const one = densities[w]!.density;
    for (let k = 0; k < density.length; k++) density[k]! += one[k]! / windows.length;
  }
  return { density, stepHz: first.stepHz, segments: first.segments * windows.length };
}
