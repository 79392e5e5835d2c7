import { describe, expect, it } from 'vitest';
import { createChannelMeter } from '../../../collector/measure/channel-meter.ts';
import type { Reading } from '../../../collector/model.ts';
import { addTap, type FeltTap } from '../../../collector/rig/felt-taps.ts';
import { findTap, type RecentPeaks, type Tap, tapThreshold } from '../../../collector/rig/tap.ts';
import { seeded } from '../../support/simulated-node.ts';

const RATE_HZ = 3200;

/** Roughly Gaussian noise of the given RMS (sum of twelve uniforms). */
function noise(rms: number, random: () => number): (i: number) => number {
  return () => {
    let sum = -6;
    for (let k = 0; k < 12; k++) sum += random();
    return rms * sum;
  };
}

/** A struck clamp: rings at 380 Hz and dies away; starts 0.3 s into the second. */
const ring =
  (peak: number, dampingRatio = 0.04) =>
  (i: number) => {
    const t = i / RATE_HZ - 0.3;
    const omega = 2 * Math.PI * 380;
    return t < 0 ? 0 : peak * Math.exp(-dampingRatio * omega * t) * Math.sin(omega * t);
  };

/** Seconds of one sensor measured by the station's own meter. */
function readings(seconds: ((i: number) => number)[], nodeId = '00000000000000a1', sensor = 0): Reading[] {
  const meter = createChannelMeter({ sampleRateHz: RATE_HZ, fullScaleMPerS2: 160 });
  return seconds.map((second, index) => {
    meter.feed(Float64Array.from({ length: RATE_HZ }, (_, i) => 9.81 + second(i)));
    const { sampleCount: _, moments, flags, ...values } = meter.closeBlock();
    return {
      nodeId,
      sensor,
      startMs: 1_760_000_000_000 + index * 1000,
      durationS: 1,
      sampleRateHz: RATE_HZ,
      bandHz: [10, 1000],
      axes: [{ axis: 'z', ...values, meanMPerS2: moments.mean }],
      flags,
    };
  });
}

function tapsIn(found: Reading[]): Tap[] {
  const recent: RecentPeaks = [];
  return found.flatMap((reading) => findTap(recent, reading) ?? []);
}

const plus = (a: (i: number) => number, b: (i: number) => number) => (i: number) => a(i) + b(i);

describe('a tap', () => {
  it('is found in the second it falls into, on a clamp at rest', () => {
    const quiet = noise(0.04, seeded(3));
    const seconds = Array.from({ length: 12 }, (_, s) => (s === 8 ? plus(quiet, ring(25)) : quiet));
    const taps = tapsIn(readings(seconds));
    expect(taps).toEqual([
      expect.objectContaining({ sensor: 0, atMs: 1_760_000_008_500, source: 'samples', atRest: true }),
    ]);
    // The first swing of a ring-down is a little lower than its envelope.
    expect(taps[0]!.peakMPerS2).toBeGreaterThan(21);
    expect(taps[0]!.peakMPerS2).toBeLessThan(26);
  });

  it('is found when it rings long, as on a thin sheet', () => {
    const quiet = noise(0.04, seeded(4));
    const seconds = Array.from({ length: 6 }, (_, s) => (s === 4 ? plus(quiet, ring(30, 0.012)) : quiet));
    expect(tapsIn(readings(seconds))).toHaveLength(1);
  });

  it('is not a loose part that strikes twelve times in a second', () => {
    const quiet = noise(0.04, seeded(12));
    const strikes = Array.from({ length: 12 }, (_, n) => n / 12 - 0.3);
    const rattle = (i: number) =>
      strikes.reduce((sum, atS) => sum + ring(25)(i - Math.round(atS * RATE_HZ)), 0);
    const seconds = Array.from({ length: 6 }, (_, s) => (s === 4 ? plus(quiet, rattle) : quiet));
    expect(tapsIn(readings(seconds))).toEqual([]);
  });

  it('is not seen before three seconds are known: nothing to compare with', () => {
    const quiet = noise(0.04, seeded(5));
    expect(tapsIn(readings([quiet, plus(quiet, ring(25)), quiet]))).toEqual([]);
  });

  it('is not found in an hour of noise, nor when a machine starts, nor when the board is turned by hand', () => {
    const random = seeded(6);
    const quiet = noise(0.04, random);
    expect(tapsIn(readings(Array.from({ length: 3600 }, () => quiet)))).toEqual([]);

    const shaking = (i: number) => 20 * Math.sin((2 * Math.PI * 48 * i) / RATE_HZ);
    expect(tapsIn(readings([quiet, quiet, quiet, quiet, shaking, shaking]))).toEqual([]);

    const turning = (i: number) => -9.81 * (1 - Math.cos((Math.PI * i) / RATE_HZ));
    expect(tapsIn(readings([quiet, quiet, quiet, quiet, turning]))).toEqual([]);
  }, 60_000);

  it('must stand far above a running machine, and says that it was running', () => {
    const machine = noise(2, seeded(7));
    const weak = Array.from({ length: 10 }, (_, s) => (s === 8 ? plus(machine, ring(25)) : machine));
    expect(tapsIn(readings(weak))).toEqual([]);
    const strong = Array.from({ length: 10 }, (_, s) => (s === 8 ? plus(machine, ring(120)) : machine));
    expect(tapsIn(readings(strong))).toEqual([expect.objectContaining({ atRest: false })]);
  });

  it('raises its threshold when blows go on: a machine that knocks is not a person who raps', () => {
    const quiet = noise(0.04, seeded(8));
    const knocking = Array.from({ length: 20 }, (_, s) => (s < 5 ? quiet : plus(quiet, ring(25))));
    const found = tapsIn(readings(knocking));
    expect(found.length).toBeLessThanOrEqual(5);
    expect(found.at(-1)!.atMs).toBeLessThan(1_760_000_010_000);
  });

  it('has no threshold before enough is known', () => {
    expect(tapThreshold([0.1, 0.1])).toBeNull();
    expect(tapThreshold([0.1, 0.1, 0.1])).toBe(2);
    expect(tapThreshold([5, 5, 5])).toBe(30);
  });
});

describe('one rap felt by many', () => {
  const tap = (nodeId: string, sensor: number | null, atMs: number, peakMPerS2: number | null): Tap => ({
    nodeId,
    sensor,
    atMs,
    peakMPerS2,
    source: 'samples',
    atRest: true,
  });
  const gather = (...taps: Tap[]) => taps.reduce<FeltTap[]>(addTap, []);

  it('is one, with the strongest first and clear when it leads by twice', () => {
    const raps = gather(tap('a', 0, 1000, 4), tap('b', 1, 1500, 30), tap('b', 0, 1000, 9));
    expect(raps).toHaveLength(1);
    expect(raps[0]!.felt.map(({ nodeId, sensor }) => `${nodeId}${sensor}`)).toEqual(['b1', 'b0', 'a0']);
    expect(raps[0]!.clear).toBe(true);
    expect(gather(tap('a', 0, 1000, 20), tap('b', 0, 1000, 30))[0]!.clear).toBe(false);
  });

  it('counts a sensor once, at its strongest, though node and station both report', () => {
    const raps = gather(tap('a', 0, 1000, 12), tap('a', 0, 1500, 30), tap('a', 0, 2000, 5));
    expect(raps[0]!.felt).toEqual([tap('a', 0, 1500, 30)]);
    // A node that does not say which sensor is no rival of its own sensors.
    expect(gather(tap('a', 0, 1000, 12), tap('a', null, 1200, 11))[0]!.clear).toBe(true);
  });

  it('are several when they are apart, and the list stays short', () => {
    const raps = gather(...Array.from({ length: 50 }, (_, i) => tap('a', 0, i * 5000, 10)));
    expect(raps).toHaveLength(20);
    expect(raps.map(({ id }) => id)).toEqual(Array.from({ length: 20 }, (_, i) => 31 + i));
  });
});
