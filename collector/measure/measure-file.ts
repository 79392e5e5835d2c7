import { type BearingVerdict, diagnose, type Finding } from '../analysis/index.ts';
import type { BearingMultipliers } from '../drivetrain/index.ts';
import { type AccelerationUnit, toMPerS2 } from '../dsp/units.ts';
import type { Flag } from '../model.ts';
import { DEFAULT_LIMITS } from '../uncertainty/budget.ts';
import { openWav } from '../wav/open-wav.ts';
import type { BandName } from './band.ts';
import { type ChannelBlock, createChannelMeter, mergeBlocks } from './channel-meter.ts';
import { velocityNoiseFloorMmPerS } from './noise-floor.ts';

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
  /** Speed of the shaft that turns in the bearing; with it shaft orders, with `bearing` the bearing's lines are sought. */
  speedRpm?: number;
  bearing?: BearingMultipliers;
  /** Measures what is there of a file that was cut short. */
  allowTruncated?: boolean;
  /** Called with what each channel was judged by, for a picture. */
  onRecord?: (channel: AnalysedChannel) => void;
  /** Share of the file done, 0 to 1. */
  onProgress?: (share: number) => void;
}

/** The samples, in m/s², in which a channel's findings were sought. */
export interface AnalysedChannel {
  name: string;
  samples: Float64Array;
  sampleRateHz: number;
  findings: Finding[];
}

interface MeasuredValues {
  velocityRmsMmPerS: number | null;
  /** Expanded (k = 2, about 95 %). */
  velocityUncertaintyMmPerS: number | null;
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
  /** What stands out in the record, most telling first. */
  findings: Finding[];
  /** About the bearing; without one 'none' or, when something unexplained repeats, 'not-clear'. */
  verdict: BearingVerdict;
  /** Why, in one sentence. */
  verdictReason: string;
  blocks: MeasuredBlock[];
}

export interface FileMeasurement {
  file: string;
  sampleRateHz: number;
  /** The file was cut short: the values are of the part that is there. */
  truncated: boolean;
  channels: MeasuredChannel[];
}

const NAMED: ReadonlySet<BearingVerdict> = new Set<BearingVerdict>(['outer', 'inner', 'ball', 'cage']);
const MOST_RATTLING = 0.1;
const FRAMES_PER_CHUNK = 16_384;
/** Findings are sought in the first so many samples: 80 s at 25.6 kHz, more than any line needs to stand out. */
const MAX_ANALYSED_SAMPLES = 2 ** 21;

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
    const kept = meters.map(() => new Float64Array(Math.min(frameCount, MAX_ANALYSED_SAMPLES)));
    const blockSamples = segmentSamples ?? sampleRateHz;
    const noise = options.noiseDensityMPerS2PerRtHz ?? 0;
    const sensor = {
      noiseFloorMmPerS: velocityNoiseFloorMmPerS(noise, meters[0]!.bandHz),
      limits: DEFAULT_LIMITS,
    };
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
      channels.forEach((samples, c) => {
        kept[c]!.set(
          samples.subarray(0, Math.max(0, kept[c]!.length - done)),
          Math.min(done, kept[c]!.length),
        );
      });
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
        name: channelName(c),
        durationS: frameCount / sampleRateHz,
        bandHz: meter.bandHz,
        accelerationBandHz: [0, sampleRateHz / 2],
        ...valuesOf(mergeBlocks(blocks[c]!, sensor)),
        ...judge(channelName(c), kept[c]!, sampleRateHz, options, whyUnjudged(blocks[c]!), blocks[c]!),
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

/** What makes a whole record say nothing about a part, or null. */
function whyUnjudged(blocks: readonly ChannelBlock[]): string | null {
  const all = (flag: Flag) => blocks.every((block) => block.flags.includes(flag));
  if (all('stuck')) return 'the sensor repeats one value all the time';
  if (all('gap')) return 'no stretch of it is whole';
  if (all('settling')) return 'the record is too short: the filter never settled';
  return null;
}

type Judgement = Pick<MeasuredChannel, 'findings' | 'verdict' | 'verdictReason'>;

function judge(
  name: string,
  samples: Float64Array,
  sampleRateHz: number,
  options: MeasureOptions,
  unjudged: string | null,
  blocks: readonly ChannelBlock[],
): Judgement {
  const { speedRpm, bearing, segmentSamples } = options;
  if (segmentSamples !== undefined) {
    const verdictReason = 'joined snapshots are measured one by one; nothing is sought across their joins';
    return { findings: [], verdict: 'not-covered', verdictReason };
  }
  if (unjudged !== null) return { findings: [], verdict: 'not-covered', verdictReason: unjudged };
  if (speedRpm !== undefined && speedRpm / 60 > sampleRateHz / 4) {
    const verdictReason = `${speedRpm} revolutions a minute are too fast for ${sampleRateHz} samples a second`;
    return { findings: [], verdict: 'not-covered', verdictReason };
  }
  const { findings, verdict, reason } = diagnose({
    samples,
    sampleRateHz,
    ...(speedRpm !== undefined && { shaftHz: speedRpm / 60 }),
    ...(bearing !== undefined && { bearing }),
  });
  options.onRecord?.({ name, samples, sampleRateHz, findings });
  const rattling = blocks.filter(({ flags }) => flags.includes('rattle')).length;
  if (NAMED.has(verdict) && rattling > MOST_RATTLING * blocks.length) {
    const verdictReason = `${reason}, but the sensor rattled in its clamp, which makes lines of its own`;
    return { findings, verdict: 'not-clear', verdictReason };
  }
  return { findings, verdict, verdictReason: reason };
}

function channelName(index: number): string {
  return `channel-${index + 1}`;
}

function valuesOf(block: ChannelBlock): MeasuredValues {
  const { velocityRmsMmPerS, velocityUncertaintyMmPerS = null, accelerationRmsMPerS2 } = block;
  const { accelerationPeakMPerS2, crestFactor, kurtosis, flags } = block;
  return {
    velocityRmsMmPerS,
    velocityUncertaintyMmPerS,
    accelerationRmsMPerS2,
    accelerationPeakMPerS2,
    crestFactor,
    kurtosis,
    flags,
  };
}

function scaleInPlace(samples: Float64Array, scale: number): void {
  for (let i = 0; i < samples.length; i++) samples[i]! *= scale;
}
