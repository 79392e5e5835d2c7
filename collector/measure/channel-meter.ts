import { createMomentAccumulator, NO_MOMENTS } from '../dsp/moments.ts';
import type { Density } from '../dsp/spectrum.ts';
import type { Flag } from '../model.ts';
import { createScatterMeter } from '../uncertainty/block-scatter.ts';
import { blockSpectrum } from '../uncertainty/block-spectrum.ts';
import { DEFAULT_LIMITS, type SensorLimits } from '../uncertainty/budget.ts';
import { BAND_TOP_HZ, type BandName, coveredBandHz } from './band.ts';
import { blockOf, type ChannelBlock } from './block-values.ts';
import { isBelowNoiseFloor, velocityNoiseFloorMmPerS } from './noise-floor.ts';
import { createRattleDetector } from './rattle.ts';
import { createSignalFaultDetector } from './signal-faults.ts';
import { createVelocityMeter } from './velocity-meter.ts';

export { type ChannelBlock, mergeBlocks } from './block-values.ts';

/**
 * Measures one channel as samples arrive. The caller feeds contiguous samples and closes a block wherever it
 * likes (the station: at each whole second); filter state runs on across blocks. After a gap: `reset`, or a new
 * meter. A block that holds samples from before the filter settled (1 s for 10-1000 Hz, 5 s for 2-1000 Hz) has
 * no velocity and the flag 'settling'.
 */
export interface ChannelMeter {
  /** Velocity band really covered. */
  readonly bandHz: [number, number];
  /** `acceleration` in m/s², in pieces of any size: the values do not depend on how the samples are cut. */
  feed(acceleration: Float64Array): void;
  closeBlock(): ChannelBlock;
  /**
   * Density of acceleration of the block closed last, (m/s²)² per Hz at the rate of the design; null when it was too
   * short for one or held samples that are no numbers. Kept apart from the block: it is large, and not all need it.
   */
  lastDensity(): Density | null;
  /**
   * The true sample rate where it is better known than the rate of the design. The digital filter integrates
   * over design seconds, so velocity scales by design / true rate, from the next `closeBlock` on. Amplitude is
   * exact at any ratio, but the band's edges move with it: the tolerance at 1000 Hz holds for 1 % of difference.
   *
   * @throws RangeError beyond 5 %: then a meter for the new rate is due
   */
  setTrueRateHz(sampleRateHz: number): void;
  /** As new, but for the true rate: forgets all samples and settles again. */
  reset(): void;
}

export interface ChannelMeterOptions {
  sampleRateHz: number;
  /** Acceleration at digital full scale; 0 when not known: then values are null, flag 'unknown-scale'. */
  fullScaleMPerS2: number;
  band?: BandName;
  /** Noise density of the sensor, for the flag 'below-noise-floor'. */
  noiseDensityMPerS2PerRtHz?: number;
  /** Limits of error of the mounted sensor, for the uncertainty. */
  limits?: SensorLimits;
}

const LARGEST_RATE_DIFFERENCE = 0.05;
/** A longer block is judged by the spectrum of its first seconds. */
const LONGEST_SPECTRUM_S = 1.25;

/** @throws RangeError when the sample rate is too low for the band */
export function createChannelMeter(options: ChannelMeterOptions): ChannelMeter {
  const { sampleRateHz, fullScaleMPerS2, noiseDensityMPerS2PerRtHz = 0 } = options;
  const bandHz = coveredBandHz(sampleRateHz, options.band ?? '10-1000');
  const scaleKnown = fullScaleMPerS2 > 0 && Number.isFinite(fullScaleMPerS2);
  const floorMmPerS = velocityNoiseFloorMmPerS(noiseDensityMPerS2PerRtHz, bandHz);
  const velocityMeter = createVelocityMeter(sampleRateHz, bandHz);
  const moments = createMomentAccumulator();
  const faults = createSignalFaultDetector(scaleKnown ? fullScaleMPerS2 : 0, sampleRateHz);
  const isRattling = createRattleDetector(sampleRateHz);
  const scatterMeter = createScatterMeter(sampleRateHz, bandHz);
  const block = new Float64Array(Math.ceil(sampleRateHz * LONGEST_SPECTRUM_S));
  const sensor = { noiseFloorMmPerS: floorMmPerS, limits: options.limits ?? DEFAULT_LIMITS };
  let blockLength = 0;
  let density: Density | null = null;
  let trueRateRatio = 1;

  function takeScatter(seconds: number) {
    density = blockSpectrum(block.subarray(0, blockLength), sampleRateHz);
    blockLength = 0;
    return scatterMeter.take(density, seconds);
  }

  return {
    bandHz,
    feed(acceleration) {
      moments.add(acceleration);
      faults.add(acceleration);
      velocityMeter.feed(acceleration);
      const room = Math.min(acceleration.length, block.length - blockLength);
      block.set(acceleration.subarray(0, room), blockLength);
      blockLength += room;
    },
    closeBlock() {
      const taken = moments.take();
      const { clipped, stuck } = faults.take();
      const designVelocityRms = velocityMeter.takeRmsMmPerS();
      const velocityRms = designVelocityRms === null ? null : designVelocityRms / trueRateRatio;
      const flags: Flag[] = [];
      if (!scaleKnown) flags.push('unknown-scale');
      if (bandHz[1] < BAND_TOP_HZ) flags.push('band-not-covered');
      if (!Number.isFinite(taken.m4)) {
        // A sample that is no number is a missing sample, and would stay in the filter for ever.
        velocityMeter.reset();
        blockLength = 0;
        density = null;
        scatterMeter.reset();
        const nothing = { rmsMmPerS: null, scatter: null, ...sensor };
        return blockOf(taken.count, { ...NO_MOMENTS }, nothing, [...flags, 'gap']);
      }
      if (velocityRms === null) flags.push('settling');
      else if (scaleKnown && isBelowNoiseFloor(velocityRms, floorMmPerS)) flags.push('below-noise-floor');
      if (clipped) flags.push('clipped');
      if (stuck) flags.push('stuck');
      if (scaleKnown && isRattling(block.subarray(0, blockLength), taken)) flags.push('rattle');
      const scatter = takeScatter(taken.count / sampleRateHz);
      return blockOf(taken.count, taken, { rmsMmPerS: velocityRms, scatter, ...sensor }, flags);
    },
    lastDensity: () => density,
    setTrueRateHz(trueRateHz) {
      const ratio = trueRateHz / sampleRateHz;
      if (!(Math.abs(ratio - 1) <= LARGEST_RATE_DIFFERENCE)) {
        throw new RangeError(
          `true rate ${trueRateHz} Hz is more than 5 % off the design rate ${sampleRateHz} Hz: make a meter for it`,
        );
      }
      trueRateRatio = ratio;
    },
    reset() {
      velocityMeter.reset();
      moments.take();
      faults.take();
      blockLength = 0;
      density = null;
      scatterMeter.reset();
    },
  };
}
