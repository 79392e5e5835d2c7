import { PacketFlag, type SamplePacket } from '../../firmware-protocol/index.ts';
import { type TwelfthOctaves, toTwelfthOctaves } from '../dsp/twelfth-octaves.ts';
import type { BandName } from '../measure/band.ts';
import { type ChannelMeter, createChannelMeter } from '../measure/channel-meter.ts';
import type { AxisValues, Flag } from '../model.ts';
import type { Chunk } from '../timeline/chunk.ts';

/** Values of one sensor (its axes together) over one block. */
export interface SensorBlock {
  sensor: number;
  bandHz: [number, number];
  axes: AxisValues[];
  /** Spectrum of each axis; null when the block was too short for one or its scale is unknown. */
  spectra: TwelfthOctaves[] | null;
  flags: Flag[];
}

/** The meters of all channels of one contiguous stretch of samples. */
export interface SensorMeters {
  /** Frames [from, to), counted like the chunk's own counters. */
  feed(chunk: Chunk, from: number, to: number): void;
  /** Ends a block; values hold for this true rate (within 5 % of the design rate). */
  closeBlock(trueRateHz: number): SensorBlock[];
}

interface Channel {
  index: number;
  values: { sensor: number; axis: AxisValues['axis'] };
  meter: ChannelMeter | null;
}

export interface MeterDesign {
  band: BandName;
  rateHz: number;
  /** 0: not known. */
  noiseDensityMPerS2PerRtHz: number;
}

export function createSensorMeters(packet: SamplePacket, design: MeterDesign): SensorMeters {
  const channels: Channel[] = packet.channels.map(({ sensor, axis }, index) => ({
    index,
    values: { sensor, axis },
    meter: meterFor(packet, design),
  }));
  const sensors = [...new Set(channels.map((c) => c.values.sensor))];
  const scale = packet.fullScaleMPerS2 > 0 ? packet.fullScaleMPerS2 / 32768 : 1 / 32768;
  let scratch = new Float64Array(1024);
  let outOfRange = false;

  return {
    feed(chunk, from, to) {
      const count = to - from;
      if (scratch.length < count) scratch = new Float64Array(count);
      if ((chunk.packet.flags & PacketFlag.OutOfRange) !== 0) outOfRange = true;
      const values = scratch.subarray(0, count);
      for (const { index, meter } of channels) {
        if (meter === null) continue;
        const raw = chunk.packet.samples[index]!;
        const at = from - chunk.first;
        for (let i = 0; i < count; i++) values[i] = raw[at + i]! * scale;
        meter.feed(values);
      }
    },
    closeBlock(trueRateHz) {
      const clipped = outOfRange;
      outOfRange = false;
      return sensors.map((sensor) => {
        const own = channels.filter((c) => c.values.sensor === sensor);
        const flags = new Set<Flag>(clipped ? ['clipped'] : []);
        const axes = own.map(({ meter, values: { axis } }) => axisValues(meter, axis, trueRateHz, flags));
        const spectra = flags.has('unknown-scale') ? null : spectraOf(own, design.rateHz);
        return { sensor, bandHz: own[0]!.meter?.bandHz ?? [0, 0], axes, spectra, flags: [...flags] };
      });
    },
  };
}

/** Of the blocks closed last, up to where sensors of that rate are flat (common practice, no source). */
function spectraOf(channels: readonly Channel[], rateHz: number): TwelfthOctaves[] | null {
  const spectra: TwelfthOctaves[] = [];
  for (const { meter } of channels) {
    const density = meter?.lastDensity() ?? null;
    if (density === null) return null;
    spectra.push(toTwelfthOctaves(density, rateHz / 2.56));
  }
  return spectra;
}

/** Null when the sample rate is too low for any velocity band: such a sensor's readings say so. */
function meterFor({ fullScaleMPerS2 }: SamplePacket, design: MeterDesign): ChannelMeter | null {
  const { rateHz: sampleRateHz, band, noiseDensityMPerS2PerRtHz } = design;
  try {
    return createChannelMeter({ sampleRateHz, fullScaleMPerS2, band, noiseDensityMPerS2PerRtHz });
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}

function axisValues(
  meter: ChannelMeter | null,
  axis: AxisValues['axis'],
  trueRateHz: number,
  flags: Set<Flag>,
): AxisValues {
  if (meter === null) {
    flags.add('band-not-covered');
    return {
      axis,
      velocityRmsMmPerS: null,
      accelerationRmsMPerS2: null,
      accelerationPeakMPerS2: null,
      crestFactor: null,
      kurtosis: null,
      meanMPerS2: null,
    };
  }
  meter.setTrueRateHz(trueRateHz);
  const block = meter.closeBlock();
  for (const flag of block.flags) flags.add(flag);
  const { velocityRmsMmPerS, velocityUncertaintyMmPerS, accelerationRmsMPerS2 } = block;
  const { accelerationPeakMPerS2, crestFactor, kurtosis } = block;
  const hasMean = axis !== 'single' && accelerationRmsMPerS2 !== null;
  return {
    axis,
    velocityRmsMmPerS,
    ...(velocityUncertaintyMmPerS === undefined ? {} : { velocityUncertaintyMmPerS }),
    accelerationRmsMPerS2,
    accelerationPeakMPerS2,
    crestFactor,
    kurtosis,
    meanMPerS2: hasMean ? block.moments.mean : null,
  };
}
