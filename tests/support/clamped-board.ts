import type { ChannelLayout } from '../../firmware-protocol/index.ts';
import { seeded } from './simulated-node.ts';

type Vector = readonly [number, number, number];

const AXES = ['x', 'y', 'z'] as const;
const FULL_SCALE_M_PER_S2 = 160;
const RATE_HZ = 3200;
/** A struck clamp rings here and dies away in a few hundredths of a second. */
const RING_HZ = 380;
const DAMPING = 0.04;

/**
 * Samples of a board with several three-axis sensors at rest: gravity, the sensor's own noise, and the ring of a
 * knuckle when one is rapped; the others feel a part of it.
 */
export function clampedBoard(options: {
  /** Gravity in each sensor's axes at a time since the start. */
  gravity(sinceStartS: number): Vector[];
  /** Ends after so long; for ever without. */
  lengthS?: number;
}) {
  const { gravity, lengthS = Number.POSITIVE_INFINITY } = options;
  const sensorCount = gravity(0).length;
  const channels: ChannelLayout[] = Array.from({ length: sensorCount }, (_, sensor) =>
    AXES.map((axis) => ({ sensor, axis })),
  ).flat();
  const random = seeded(17);
  let frame = 0;
  let rap: { sensor: number; peakMPerS2: number; frame: number } | null = null;

  function ringOf(sensor: number): number {
    if (rap === null) return 0;
    const omega = 2 * Math.PI * RING_HZ;
    const t = (frame - rap.frame) / RATE_HZ;
    const share = sensor === rap.sensor ? 1 : 0.15;
    return share * rap.peakMPerS2 * Math.exp(-DAMPING * omega * t) * Math.sin(omega * t);
  }

  return {
    /** Rap this sensor's clamp now. */
    rap(sensor: number, peakMPerS2 = 40): void {
      rap = { sensor, peakMPerS2, frame };
    },
    source: {
      channels,
      sampleRateHz: RATE_HZ,
      fullScaleMPerS2: FULL_SCALE_M_PER_S2,
      next(frames: number): Int16Array[] | null {
        const count = Math.min(frames, Math.round(lengthS * RATE_HZ) - frame);
        if (!(count > 0)) return null;
        const samples = channels.map(() => new Int16Array(count));
        for (let at = 0; at < count; at++, frame++) {
          const felt = gravity(frame / RATE_HZ);
          for (let sensor = 0; sensor < sensorCount; sensor++) {
            const ring = ringOf(sensor);
            for (let axis = 0; axis < 3; axis++) {
              const noise = 0.08 * (random() + random() + random() - 1.5);
              const value = felt[sensor]![axis]! + [0.4, 0.3, 1][axis]! * ring + noise;
              samples[3 * sensor + axis]![at] = Math.round((value / FULL_SCALE_M_PER_S2) * 32768);
            }
          }
        }
        return samples;
      },
    },
  };
}
