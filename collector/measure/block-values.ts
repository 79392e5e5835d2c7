import { crestFactor, kurtosis, type Moments, mergeMoments, NO_MOMENTS, peak, rms } from '../dsp/moments.ts';
import type { AxisValues, Flag } from '../model.ts';

/** Values of one block of one channel; `moments` let blocks be merged into longer stretches exactly. */
export interface ChannelBlock extends Omit<AxisValues, 'axis'> {
  sampleCount: number;
  /** Of the acceleration, m/s²; the mean is that of the block, gravity included. */
  moments: Moments;
  flags: Flag[];
}

/** A block from its moments; without a known scale it has no values. */
export function blockOf(
  sampleCount: number,
  moments: Moments,
  velocityRmsMmPerS: number | null,
  flags: Flag[],
): ChannelBlock {
  const scaled = !flags.includes('unknown-scale');
  return {
    velocityRmsMmPerS: scaled ? velocityRmsMmPerS : null,
    accelerationRmsMPerS2: scaled ? rms(moments) : null,
    accelerationPeakMPerS2: scaled ? peak(moments) : null,
    crestFactor: scaled ? crestFactor(moments) : null,
    kurtosis: scaled ? kurtosis(moments) : null,
    sampleCount,
    moments,
    flags,
  };
}

/**
 * The values of consecutive blocks as one: acceleration exactly as if the samples had been one block; velocity
 * as the energy mean of the blocks that have one, weighted by their samples; every flag that some block has,
 * but 'settling' only when no block has settled.
 */
export function mergeBlocks(blocks: readonly ChannelBlock[]): ChannelBlock {
  let moments: Moments = { ...NO_MOMENTS };
  let sampleCount = 0;
  let velocitySamples = 0;
  let velocitySquares = 0;
  const flags = new Set<Flag>();
  for (const block of blocks) {
    moments = mergeMoments(moments, block.moments);
    sampleCount += block.sampleCount;
    for (const flag of block.flags) flags.add(flag);
    if (block.velocityRmsMmPerS === null) continue;
    velocitySamples += block.sampleCount;
    velocitySquares += block.velocityRmsMmPerS ** 2 * block.sampleCount;
  }
  if (blocks.some((block) => !block.flags.includes('settling'))) flags.delete('settling');
  const velocity = velocitySamples > 0 ? Math.sqrt(velocitySquares / velocitySamples) : null;
  return blockOf(sampleCount, moments, velocity, [...flags]);
}
