import type { NodeHealth, Reading } from '../../../collector/index.ts';

/** A second of a three-axis sensor that feels `gravity` and shakes a little. */
export function feltSecond(
  nodeId: string,
  sensor: number,
  startMs: number,
  gravity: readonly [number, number, number],
): Reading {
  return {
    nodeId,
    sensor,
    startMs,
    durationS: 1,
    sampleRateHz: 3200,
    bandHz: [10, 1000],
    axes: (['x', 'y', 'z'] as const).map((axis, index) => ({
      axis,
      velocityRmsMmPerS: 0.5,
      accelerationRmsMPerS2: 0.05,
      accelerationPeakMPerS2: 0.2,
      crestFactor: 4,
      kurtosis: 3,
      meanMPerS2: gravity[index]!,
    })),
    flags: [],
  };
}

export function soundHealth(nodeId: string, atMs: number): NodeHealth {
  return {
    nodeId,
    atMs,
    status: {
      arrivedMs: atMs,
      state: 'sampling',
      batteryPercent: 64,
      batteryMilliVolt: 3800,
      bufferFillPermille: 0,
      temperatureC: 21.5,
      signalDbm: -58,
      resolutionBits: 13,
      fullScaleMPerS2: 156.9,
      noiseDensityUmPerS2PerRtHz: 4000,
      sensorBandwidthHz: 1600,
      nextStatusWithinS: 60,
      firmwareVersion: '1.4.0',
      sensorPart: 'ADXL345',
    },
    boot: {
      bootId: 7,
      startedMs: atMs - 3_600_000,
      resetCause: 'power',
      packetsReceived: 28_800,
      packetsMissing: 0,
      packetsDropped: 0,
      overruns: 0,
    },
    clock: { source: 'synced', exchangedMs: atMs - 4000, uncertaintyMs: 2.1, errorPpm: 14 },
    sensors: [
      {
        sensor: 0,
        newestMs: atMs - 2000,
        nominalRateHz: 3200,
        trueRateHz: 3187.4,
        flags: [],
        gravityMPerS2: [0.1, 0.2, 9.79],
        recentSeconds: 900,
        clippedSeconds: 0,
        rattlingSeconds: 0,
        quietest: {
          startMs: atMs - 900_000,
          accelerationRmsMPerS2: 0.16,
          noiseDensityUmPerS2PerRtHz: 4000,
        },
      },
    ],
  };
}
