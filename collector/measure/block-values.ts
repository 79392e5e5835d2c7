import { crestFactor, kurtosis, type Moments, mergeMoments, NO_MOMENTS, peak, rms } from '../dsp/moments.ts';
import type { AxisValues, Flag } from '../model.ts';
import type { BlockScatter } from '../uncertainty/block-scatter.ts';
import { DEFAULT_LIMITS, type SensorLimits, velocityUncertainty } from '../uncertainty/budget.ts';

/** Values of one block of one channel; `moments` let blocks be merged into longer stretches exactly. */
export interface ChannelBlock extends Omit<AxisValues, 'axis'> {
  /** Relative standard deviation of the velocity by chance; null when not known. */
  velocityRandomError: number | null;
  /** Half-width of the velocity's relative error by the band's edges. */
  velocityBandEdgeLimit: number;
  sampleCount: number;
  /** Of the acceleration, m/s²; the mean is that of the block, gravity included. */
  moments: Moments;
  flags: Flag[];
}

/** A velocity with what is known of its errors. */
export interface VelocityValue {
  rmsMmPerS: number | null;
  scatter: BlockScatter | null;
  /** Velocity that the sensor's own noise reads; 0 when not known. */
  noiseFloorMmPerS: number;
  limits: SensorLimits;
}

/** A block from its moments; without a known scale it has no values. */
export function blockOf(
  sampleCount: number,
  moments: Moments,
  velocity: VelocityValue,
  flags: Flag[],
): ChannelBlock {
  const scaled = !flags.includes('unknown-scale');
  const velocityRmsMmPerS = scaled ? velocity.rmsMmPerS : null;
  const { scatter, noiseFloorMmPerS, limits } = velocity;
  const uncertainty =
    velocityRmsMmPerS === null || scatter === null
      ? null
      : velocityUncertainty({ velocityRmsMmPerS, ...scatter, noiseFloorMmPerS, limits });
  return {
    velocityRmsMmPerS,
    velocityUncertaintyMmPerS: uncertainty?.expandedMmPerS ?? null,
    velocityRandomError: scatter?.randomError ?? null,
    velocityBandEdgeLimit: scatter?.bandEdgeLimit ?? 0,
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
 * but 'settling' only when no block has settled. `sensor`: as the blocks were measured with.
 */
export function mergeBlocks(
  blocks: readonly ChannelBlock[],
  sensor: Pick<VelocityValue, 'noiseFloorMmPerS' | 'limits'> = {
    noiseFloorMmPerS: 0,
    limits: DEFAULT_LIMITS,
  },
): ChannelBlock {
  let moments: Moments = { ...NO_MOMENTS };
  let sampleCount = 0;
  let velocitySamples = 0;
  let velocitySquares = 0;
  let chanceSquares = 0;
  let edges = 0;
  let scatterKnown = true;
  const flags = new Set<Flag>();
  for (const block of blocks) {
    moments = mergeMoments(moments, block.moments);
    sampleCount += block.sampleCount;
    for (const flag of block.flags) flags.add(flag);
    if (block.velocityRmsMmPerS === null) continue;
    velocitySamples += block.sampleCount;
    const energy = block.velocityRmsMmPerS ** 2 * block.sampleCount;
    velocitySquares += energy;
    // Chance is independent from block to block, the filter's edges are the same in all of them.
    chanceSquares += (energy * (block.velocityRandomError ?? 0)) ** 2;
    edges += energy * block.velocityBandEdgeLimit;
    if (block.velocityRandomError === null) scatterKnown = false;
  }
  if (blocks.some((block) => !block.flags.includes('settling'))) flags.delete('settling');
  const velocity = velocitySamples > 0 ? Math.sqrt(velocitySquares / velocitySamples) : null;
  const scatter =
    scatterKnown && velocitySquares > 0
      ? { randomError: Math.sqrt(chanceSquares) / velocitySquares, bandEdgeLimit: edges / velocitySquares }
      : null;
  return blockOf(sampleCount, moments, { rmsMmPerS: velocity, scatter, ...sensor }, [...flags]);
}
