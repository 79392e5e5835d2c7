import type { BandName } from '../measure/band.ts';
import type { BlockSpectrum, Reading } from '../model.ts';
import type { Chunk } from '../timeline/chunk.ts';
import { type Block, rateIsKnown, type Segment } from '../timeline/segment.ts';
import { createSensorMeters, type SensorBlock, type SensorMeters } from './sensor-meters.ts';

/** Measures one segment: feeds its samples to meters and makes readings of its blocks. */
export interface SegmentMeter {
  fed(chunk: Chunk, from: number, to: number): void;
  cut(segment: Segment, block: Block): SensorBlock[];
}

/** Beyond this relative difference from the rate they were designed for, the filters are designed anew. */
const REDESIGN = 0.003;
/** A meter refuses a true rate beyond 5 % of its design. */
const FARTHEST = 0.045;

export interface MeterSetting {
  band: BandName;
  noiseDensityMPerS2PerRtHz: number;
}

/** A new segment's meter, or (`segment.tail` holds samples) the meter of one that goes on after a restart. */
export function createSegmentMeter(segment: Segment, first: Chunk, setting: MeterSetting): SegmentMeter {
  const { noiseDensityMPerS2PerRtHz } = setting;
  segment.design ??= { rateHz: 1e6 / segment.fit.periodUs, noiseDensityMPerS2PerRtHz };
  let design = segment.design;
  let meters = warmMeters(segment);

  function warmMeters(of: Segment): SensorMeters {
    const made = createSensorMeters(first.packet, { band: setting.band, ...design });
    replay(made, of, design.rateHz);
    return made;
  }

  /** New filters for the rate now known, warmed by the samples at hand so that no reading is lost to settling. */
  function redesign(of: Segment, rateHz: number): void {
    design = { ...design, rateHz };
    of.design = design;
    meters = warmMeters(of);
  }

  const isOff = (rateHz: number, limit: number) => Math.abs(rateHz / design.rateHz - 1) > limit;

  return {
    fed: (chunk, from, to) => meters.feed(chunk, from, to),
    cut(of, { rateHz }) {
      if (isOff(rateHz, FARTHEST)) redesign(of, rateHz);
      const blocks = meters.closeBlock(rateHz);
      if (rateIsKnown(of.fit) && isOff(rateHz, REDESIGN)) {
        redesign(of, rateHz);
        meters.closeBlock(rateHz);
      }
      return blocks;
    },
  };
}

/** Feeds what the tail holds, cutting where blocks were cut, so that the open block stands as it did. */
function replay(meters: SensorMeters, segment: Segment, rateHz: number): void {
  const { cuts, tail, next } = segment;
  let at = cuts[0]!;
  let nextCut = 1;
  for (const chunk of tail) {
    const end = Math.min(chunk.end, next);
    while (at < end) {
      const stop = Math.min(end, nextCut < cuts.length ? cuts[nextCut]! : end);
      if (stop > at) meters.feed(chunk, at, stop);
      at = stop;
      if (nextCut < cuts.length && at === cuts[nextCut]) {
        meters.closeBlock(rateHz);
        nextCut++;
      }
    }
  }
}

/** A block shorter than this share of a second says nothing. */
const FRAGMENT_S = 0.1;

/** Spectra of the sensors that have one, each with the time of its reading. */
export function spectraOf(readings: readonly Reading[], sensors: readonly SensorBlock[]): BlockSpectrum[] {
  return readings.flatMap(({ nodeId, sensor, startMs, axes }, index) => {
    const spectra = sensors[index]?.spectra ?? null;
    if (spectra === null || spectra.length === 0) return [];
    const { firstBand } = spectra[0]!;
    const density = spectra.map((one) => one.density);
    return [{ nodeId, sensor, startMs, axes: axes.map(({ axis }) => axis), firstBand, density }];
  });
}

export function readingsOf(nodeId: string, block: Block, sensors: SensorBlock[]): Reading[] {
  const durationS = (block.end - block.start) / block.rateHz;
  if (durationS < FRAGMENT_S) return [];
  return sensors.map(({ sensor, bandHz, axes, flags }) => ({
    nodeId,
    sensor,
    startMs: block.second * 1000,
    durationS,
    sampleRateHz: block.rateHz,
    bandHz,
    axes,
    flags: [
      ...flags,
      ...(block.whole || flags.includes('gap') ? [] : (['gap'] as const)),
      ...(block.timeUncertaintyUs === null ? (['time-unknown'] as const) : []),
    ],
    timeUncertaintyMs: block.timeUncertaintyUs === null ? null : block.timeUncertaintyUs / 1000,
  }));
}
