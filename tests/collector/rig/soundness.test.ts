import { describe, expect, it } from 'vitest';
import type { NodeHealth, StatusHealth } from '../../../collector/rig/node-health.ts';
import type { SensorHealth } from '../../../collector/rig/sensor-health.ts';
import { judgeNode } from '../../../collector/rig/soundness.ts';

const NOW_MS = 1_760_000_000_000;

const STATUS: StatusHealth = {
  arrivedMs: NOW_MS - 5000,
  state: 'sampling',
  batteryPercent: 80,
  batteryMilliVolt: 3900,
  bufferFillPermille: 0,
  temperatureC: 24,
  signalDbm: -60,
  resolutionBits: 13,
  fullScaleMPerS2: 156.9,
  noiseDensityUmPerS2PerRtHz: 1000,
  sensorBandwidthHz: 1600,
  nextStatusWithinS: 60,
  firmwareVersion: '1.4.0',
  sensorPart: 'a three-axis part',
};
const SENSOR: SensorHealth = {
  sensor: 0,
  newestMs: NOW_MS - 2000,
  nominalRateHz: 3200,
  trueRateHz: 3240,
  flags: [],
  gravityMPerS2: [0, 0.4, 9.7],
  recentSeconds: 600,
  clippedSeconds: 0,
  quietest: { startMs: NOW_MS - 60_000, accelerationRmsMPerS2: 0.05, noiseDensityUmPerS2PerRtHz: 1250 },
};

function health(
  change: { status?: Partial<StatusHealth>; sensor?: Partial<SensorHealth> } & Partial<
    Pick<NodeHealth, 'boot' | 'clock'>
  > = {},
): NodeHealth {
  return {
    nodeId: '00000000000000a1',
    atMs: NOW_MS,
    status: { ...STATUS, ...change.status },
    boot: change.boot ?? {
      bootId: 7,
      startedMs: NOW_MS - 600_000,
      resetCause: 'power',
      packetsReceived: 4800,
      packetsMissing: 0,
      packetsDropped: 0,
      overruns: 0,
    },
    clock: change.clock ?? { source: 'synced', exchangedMs: NOW_MS - 9000, uncertaintyMs: 2, errorPpm: 12 },
    sensors: [{ ...SENSOR, ...change.sensor }],
  };
}

const judge = (of: NodeHealth | null, lastDataMs: number | null = NOW_MS - 1000) =>
  judgeNode({ health: of, lastDataMs, nowMs: NOW_MS });
const codes = (of: NodeHealth | null, lastDataMs?: number | null) =>
  judge(of, lastDataMs).reasons.map(({ code, severity }) => `${code} ${severity}`);

describe('a node', () => {
  it('is sound when nothing is wrong', () => {
    expect(judge(health())).toEqual({ verdict: 'sound', reasons: [] });
  });

  it('is unknown while only its readings are', () => {
    expect(judge(null).verdict).toBe('unknown');
    expect(codes(null, null)).toEqual(['never-heard fault']);
  });

  it('is silent, offline, stopped or asleep', () => {
    const long = NOW_MS - 120_000;
    expect(codes(health(), long)).toEqual(['silent fault']);
    expect(judge(health(), long).reasons[0]!.value).toBe(120);
    expect(codes(health({ status: { state: 'offline' } }), long)).toEqual(['offline fault']);
    expect(codes(health({ status: { state: 'stopped' } }), long)).toEqual(['stopped fault']);
    // Planned: no fault.
    expect(judge(health({ status: { state: 'asleep' } }), long).verdict).toBe('watch');
    // Data counts for more than a notice that may have crossed it.
    expect(codes(health({ status: { state: 'offline' } }))).toEqual([]);
  });

  it.each([
    ['clipping fault', { sensor: { clippedSeconds: 12 } }],
    ['rattling fault', { sensor: { recentSeconds: 600, rattlingSeconds: 9 } }],
    ['stuck fault', { sensor: { flags: ['stuck' as const] } }],
    ['unknown-scale fault', { sensor: { flags: ['unknown-scale' as const] } }],
    ['rate-off fault', { sensor: { trueRateHz: 3400 } }],
    ['gravity-off watch', { sensor: { gravityMPerS2: [0, 0, 8] as const } }],
    ['gravity-off fault', { sensor: { gravityMPerS2: [0, 0, 5] as const } }],
    ['no-gravity watch', { sensor: { gravityMPerS2: [0.1, 0, 0.2] as const } }],
    ['battery-low watch', { status: { batteryPercent: 11 } }],
    ['signal-weak watch', { status: { signalDbm: -88 } }],
    [
      'quieter-than-possible watch',
      { sensor: { quietest: { ...SENSOR.quietest!, noiseDensityUmPerS2PerRtHz: 100 } } },
    ],
    ['clock-unknown watch', { clock: { ...health().clock, uncertaintyMs: null } }],
    ['clock-uncertain watch', { clock: { ...health().clock, uncertaintyMs: 80 } }],
    ['packets-missing watch', { boot: { ...health().boot!, packetsMissing: 20 } }],
    ['packets-dropped watch', { boot: { ...health().boot!, packetsDropped: 3 } }],
    ['overruns watch', { boot: { ...health().boot!, overruns: 1 } }],
  ])('%s', (expected, change) => {
    expect(codes(health(change))).toEqual([expected]);
    expect(judge(health(change)).verdict).toBe(expected.endsWith('fault') ? 'not-sound' : 'watch');
  });

  it('keeps quiet about what it does not know', () => {
    const silentStatus = { batteryPercent: null, signalDbm: null, noiseDensityUmPerS2PerRtHz: null };
    expect(codes(health({ status: silentStatus, sensor: { gravityMPerS2: null, quietest: null } }))).toEqual(
      [],
    );
    expect(codes(health({ clock: { ...health().clock, source: 'replay', uncertaintyMs: 0 } }))).toEqual([]);
  });
});
