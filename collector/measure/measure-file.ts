import { type AccelerationUnit, toMPerS2 } from '../dsp/units.ts';
import type { Flag } from '../model.ts';
import { openWav } from '../wav/open-wav.ts';
import type { BandName } from './band.ts';
import { type ChannelBlock, createChannelMeter, mergeBlocks } from './channel-meter.ts';

export interface MeasureOptions {
  /** Value at digital full scale, in `unit`; 0 when not known. */
  fullScale: number;
  unit: AccelerationUnit;
  band?: BandName;
  noiseDensityMPerS2PerRtHz?: number;
  /**
   * The file is snapshots of this many samples laid end to end: each is a block of its own and nothing is
   * filtered across the joins, so there are acceleration values only.
   */
  segmentSamples?: number;
  /** Measures what is there of a file that was cut short. */
  allowTruncated?: boolean;
  /** Share of the file done, 0 to 1. */
  onProgress?: (share: number) => void;
}

interface MeasuredValues {
  velocityRmsMmPerS: number | null;
  accelerationRmsMPerS2: number | null;
  accelerationPeakMPerS2: number | null;
  crestFactor: number | null;
  kurtosis: number | null;
  flags: Flag[];
}

interface MeasuredBlock extends MeasuredValues {
  startS: number;
  durationS: number;
}

/** Values of one channel over the whole file, and of each block of a second. */
export interface MeasuredChannel extends MeasuredValues {
  name: string;
  durationS: number;
  /** Of the velocity. */
  bandHz: [number, number];
  /** Of the acceleration values: all that the sample rate carries, with the mean removed. */
  accelerationBandHz: [number, number];
  blocks: MeasuredBlock[];
}

export interface FileMeasurement {
  file: string;
  sampleRateHz: number;
  /** The file was cut short: the values are of the part that is there. */
  truncated: boolean;
  channels: MeasuredChannel[];
}

const FRAMES_PER_CHUNK = 16_384;

/**
 * Measures a WAV recording with the station's own meter, block by block of one second.
 *
 * @throws WavError when the file cannot be read
 * @throws RangeError when its rate is too low for the band
 */
export async function measureFile(path: string, options: MeasureOptions): Promise<FileMeasurement> {
  const { segmentSamples, allowTruncated = false, onProgress } = options;
  const recording = await openWav(path, { allowTruncated });
  try {
    const { sampleRateHz, frameCount } = recording;
    const scale = options.fullScale > 0 ? toMPerS2(options.fullScale, options.unit) : 0;
    const meters = Array.from({ length: recording.channelCount }, () =>
      createChannelMeter({
        sampleRateHz,
        fullScaleMPerS2: scale,
        ...(options.band !== undefined && { band: options.band }),
        ...(options.noiseDensityMPerS2PerRtHz !== undefined && {
          noiseDensityMPerS2PerRtHz: options.noiseDensityMPerS2PerRtHz,
        }),
      }),
    );
    const blocks: ChannelBlock[][] = meters.map(() => []);
    const blockSamples = segmentSamples ?? sampleRateHz;
    let inBlock = 0;
    let done = 0;
    const closeBlocks = () => {
      meters.forEach((meter, c) => {
        blocks[c]!.push(meter.closeBlock());
        if (segmentSamples !== undefined) meter.reset();
      });
      inBlock = 0;
    };
    for await (const channels of recording.chunks(FRAMES_PER_CHUNK)) {
      const frames = channels[0]!.length;
      for (const samples of channels) scaleInPlace(samples, scale === 0 ? 1 : scale);
      for (let from = 0; from < frames; ) {
        const to = Math.min(frames, from + blockSamples - inBlock);
        meters.forEach((meter, c) => {
          meter.feed(channels[c]!.subarray(from, to));
        });
        inBlock += to - from;
        if (inBlock === blockSamples) closeBlocks();
        from = to;
      }
      done += frames;
      onProgress?.(done / frameCount);
    }
    if (inBlock > 0) closeBlocks();
    return {
      file: path,
      sampleRateHz,
      truncated: recording.truncated,
      channels: meters.map((meter, c) => ({
        name: `channel-${c + 1}`,
        durationS: frameCount / sampleRateHz,
        bandHz: meter.bandHz,
        accelerationBandHz: [0, sampleRateHz / 2],
        ...valuesOf(mergeBlocks(blocks[c]!)),
        blocks: blocks[c]!.map((block, i) => ({
          startS: (i * blockSamples) / sampleRateHz,
          durationS: block.sampleCount / sampleRateHz,
          ...valuesOf(block),
        })),
      })),
    };
  } finally {
    await recording.close();
  }
}

function valuesOf({ sampleCount, moments, ...values }: ChannelBlock): MeasuredValues {
  return values;
}

function scaleInPlace(samples: Float64Array, scale: number): void {
  for (let i = 0; i < samples.length; i++) samples[i]! *= scale;
}
