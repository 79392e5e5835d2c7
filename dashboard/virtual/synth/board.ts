import type { AxisName, ChannelLayout } from '../../../firmware-protocol/index.ts';
import type { SampleSource } from '../sample-source.ts';
import type { OperatingAt } from './operating.ts';
import { gaussian } from './random.ts';
import type { Source } from './sources.ts';

const AXES: AxisName[] = ['x', 'y', 'z'];
const STANDARD_GRAVITY_M_PER_S2 = 9.80665;
/** The condition of a machine changes slowly against a sample: looking it up this often is enough. */
const FRAMES_PER_LOOK = 16;

/** One accelerometer of a board: how much of each source reaches it, and along which axes. */
export interface SensorModel {
  /** One factor for each of the board's sources: the path from it to this place. */
  path: number[];
  /** Share of the shaking that each axis picks up. */
  axisShare: [number, number, number];
}

export interface BoardModel {
  operatingAt: OperatingAt;
  sampleRateHz: number;
  fullScaleG: number;
  /** Noise density of the accelerometers, in µg per root Hz. */
  noiseUgPerRtHz: number;
  sources: Source[];
  sensors: SensorModel[];
  seed: number;
}

/** Samples of a board with several three-axis accelerometers on one clock. z stands upright and feels gravity. */
export function boardSource(model: BoardModel, startS: number): SampleSource {
  const { sampleRateHz, sources, sensors } = model;
  const fullScaleMPerS2 = model.fullScaleG * STANDARD_GRAVITY_M_PER_S2;
  const perM = 32768 / fullScaleMPerS2;
  const noiseRms = model.noiseUgPerRtHz * 1e-6 * STANDARD_GRAVITY_M_PER_S2 * Math.sqrt(sampleRateHz / 2);
  const noise = gaussian(model.seed);
  const channels: ChannelLayout[] = sensors.flatMap((_, sensor) => AXES.map((axis) => ({ sensor, axis })));
  const shaking = new Float64Array(sources.length);
  let frame = 0;
  let operating = model.operatingAt(startS);

  function fill(samples: Int16Array[], at: number): void {
    if (frame % FRAMES_PER_LOOK === 0) operating = model.operatingAt(startS + frame / sampleRateHz);
    for (let index = 0; index < sources.length; index++)
      shaking[index] = sources[index]!(operating, 1 / sampleRateHz);
    for (let sensor = 0; sensor < sensors.length; sensor++) {
      const { path, axisShare } = sensors[sensor]!;
      let arriving = 0;
      for (let index = 0; index < path.length; index++) arriving += path[index]! * shaking[index]!;
      for (let axis = 0; axis < 3; axis++) {
        const gravity = axis === 2 ? STANDARD_GRAVITY_M_PER_S2 : 0;
        const value = gravity + axisShare[axis]! * arriving + noiseRms * noise();
        samples[3 * sensor + axis]![at] = Math.max(-32768, Math.min(32767, Math.round(value * perM)));
      }
    }
    frame++;
  }

  return {
    channels,
    sampleRateHz,
    fullScaleMPerS2,
    next(frameCount) {
      const samples = channels.map(() => new Int16Array(frameCount));
      for (let at = 0; at < frameCount; at++) fill(samples, at);
      return samples;
    },
  };
}
