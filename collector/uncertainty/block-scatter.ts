import { randomErrorWithTones, velocityDensity } from '../analysis/random-error.ts';
import type { Density } from '../dsp/spectrum.ts';
import { designVelocity, velocitySensitivityAt } from '../dsp/velocity.ts';
import { blockSegmentSamples } from './block-spectrum.ts';

/** What a block's spectrum says of the value's uncertainty. */
export interface BlockScatter {
  /** Relative standard deviation of the block's velocity RMS by chance. */
  randomError: number;
  /** How far the filter's band reads from a sharp one on this spectrum, relative, as a half-width. */
  bandEdgeLimit: number;
}

/** Densities of about so many blocks are averaged: one block's own spectrum is too ragged to tell its scatter. */
const MEMORY_BLOCKS = 8;
/** Once so many are averaged, one more hardly tells: it is worked out anew every fourth block, at a quarter the cost. */
const REFRESH_BLOCKS = 4;

export interface ScatterMeter {
  /** Density of acceleration of one block, (m/s²)² per Hz; null when the block is too short for one. */
  take(density: Density | null, seconds: number): BlockScatter | null;
  reset(): void;
}

/** Follows the spectrum of a channel, to know how much of a level is chance. */
export function createScatterMeter(sampleRateHz: number, bandHz: [number, number]): ScatterMeter {
  const sensitivity = sensitivityOf(sampleRateHz, bandHz, blockSegmentSamples(sampleRateHz));
  let mean: Float64Array | null = null;
  let segments = 0;
  let blocks = 0;
  let last: (BlockScatter & { seconds: number }) | null = null;
  let sinceLast = 0;

  function average(density: Density): Density {
    blocks = Math.min(MEMORY_BLOCKS, blocks + 1);
    segments = Math.min(MEMORY_BLOCKS * density.segments, segments + density.segments);
    const { stepHz, density: own } = density;
    if (mean === null) mean = own.slice();
    else for (let k = 0; k < mean.length; k++) mean[k]! += (own[k]! - mean[k]!) / blocks;
    return { stepHz, density: mean, segments };
  }

  return {
    take(density, seconds) {
      if (density === null) return null;
      const averaged = average(density);
      if (last === null || blocks < MEMORY_BLOCKS || ++sinceLast >= REFRESH_BLOCKS) {
        const velocity = velocityDensity(averaged, bandHz);
        const randomError = randomErrorWithTones(velocity, seconds);
        last = { randomError, bandEdgeLimit: edgeError(velocity.density, sensitivity), seconds };
        sinceLast = 0;
      }
      // Chance falls with the root of the time measured.
      return { ...last, randomError: last.randomError * Math.sqrt(last.seconds / seconds) };
    },
    reset() {
      last = null;
      sinceLast = 0;
      mean = null;
      segments = 0;
      blocks = 0;
    },
  };
}

/** Sensitivity of the velocity filter at each line; all channels of one rate share it. */
function sensitivityOf(sampleRateHz: number, bandHz: [number, number], segmentSamples: number): Float64Array {
  const key = `${sampleRateHz}|${bandHz}`;
  let known = sensitivities.get(key);
  if (known === undefined) {
    const design = designVelocity(sampleRateHz, bandHz);
    known = Float64Array.from({ length: segmentSamples / 2 + 1 }, (_, k) =>
      k === 0 ? 0 : velocitySensitivityAt(design, (k * sampleRateHz) / segmentSamples),
    );
    // True rates differ a little from board to board: old ones must not pile up.
    if (sensitivities.size >= 64) sensitivities.clear();
    sensitivities.set(key, known);
  }
  return known;
}

const sensitivities = new Map<string, Float64Array>();

/** Relative error of the RMS inside the band for this density: |sqrt(sum |H|² S / sum S) - 1|. */
function edgeError(density: Float64Array, sensitivity: Float64Array): number {
  let sharp = 0;
  let filtered = 0;
  for (let k = 0; k < density.length; k++) {
    sharp += density[k]!;
    filtered += density[k]! * sensitivity[k]! * sensitivity[k]!;
  }
  return sharp === 0 ? 0 : Math.abs(Math.sqrt(filtered / sharp) - 1);
}
