import type { Density } from './spectrum.ts';

/**
 * Bands of a twelfth of an octave: band n reaches from 1000 x 10^(n/40) to 1000 x 10^((n+1)/40) Hz, 5.9 % wide. The
 * base-ten octave ratio 10^(3/10) and, for an even number of bands per octave, a band edge at 1 kHz are those of
 * IEC 61260-1:2014 (from memory).
 *
 * Spectra that are compared over weeks are kept in these rather than in lines: the bands do not depend on the sample
 * rate, which differs from board to board and drifts; a line stays in its band while the speed wanders by some per
 * cent; and shaft orders at 10 Hz are told apart as well as gear mesh at 1 kHz, in 96 values at 3200 samples/s.
 */
export interface TwelfthOctaves {
  /** Number n of the first band. */
  firstBand: number;
  /** Mean density of each band, (unit of the samples)² per Hz: times the band's width it is the mean square. */
  density: Float64Array;
}

const BANDS_PER_DECADE = 40;
/** Below 5 Hz a second of signal tells no two bands apart. */
const LOWEST_BAND = -92;

/** Up to 100 kHz. */
const HIGHEST_BAND = 79;

/** Lower edge of band n, Hz; its upper edge is that of band n + 1. The geometric mean of both is its middle. */
export function bandEdgeHz(band: number): number {
  return 1000 * 10 ** (band / BANDS_PER_DECADE);
}

const EDGES_HZ = Float64Array.from({ length: HIGHEST_BAND - LOWEST_BAND + 2 }, (_, i) =>
  bandEdgeHz(LOWEST_BAND + i),
);

/**
 * Averages a density over each band up to `topHz`. A line stands for the step around it, so that where bands are
 * narrower than lines (below about 27 Hz for lines 1.6 Hz apart) neighbours share one line, and the mean square is kept.
 */
export function toTwelfthOctaves({ density, stepHz }: Density, topHz: number): TwelfthOctaves {
  const end = Math.floor(BANDS_PER_DECADE * Math.log10(topHz / 1000) + 1e-9);
  const result = new Float64Array(Math.max(0, Math.min(end, HIGHEST_BAND + 1) - LOWEST_BAND));
  // Integral from 0 Hz up to the lower edge of the step of `line`.
  let below = 0;
  let line = 0;
  const integralUpTo = (hz: number) => {
    for (; line < density.length && (line + 0.5) * stepHz <= hz; line++) {
      // The line at 0 Hz has half a step: the other half mirrors it.
      below += density[line]! * (line === 0 ? stepHz / 2 : stepHz);
    }
    const into = hz - Math.max(0, (line - 0.5) * stepHz);
    return below + (line < density.length ? density[line]! * into : 0);
  };
  let lower = integralUpTo(EDGES_HZ[0]!);
  for (let i = 0; i < result.length; i++) {
    const upper = integralUpTo(EDGES_HZ[i + 1]!);
    result[i] = (upper - lower) / (EDGES_HZ[i + 1]! - EDGES_HZ[i]!);
    lower = upper;
  }
  return { firstBand: LOWEST_BAND, density: result };
}
