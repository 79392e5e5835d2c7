import { describe, expect, it } from 'vitest';
import { createSignalFaultDetector } from '../../../collector/measure/signal-faults.ts';
import { gaussianNoise, quantise16, sum, velocitySine } from '../../support/signals.ts';

const RATE = 3200;
const FULL_SCALE = 16 * 9.80665;
const LSB = FULL_SCALE / 32768;

function faultsOf(samples: Float64Array, fullScale = FULL_SCALE, rate = RATE) {
  const detector = createSignalFaultDetector(fullScale, rate);
  detector.add(samples);
  return detector.take();
}

const sine = (f: number, amplitude: number, count = RATE, rate = RATE) =>
  Float64Array.from({ length: count }, (_, i) => amplitude * Math.sin((2 * Math.PI * f * i) / rate + 0.3));

describe('clipped', () => {
  it('one sample at digital full scale is enough, on either side', () => {
    for (const limit of [FULL_SCALE * (32767 / 32768), -FULL_SCALE]) {
      const samples = quantise16(gaussianNoise(1, 5, RATE), FULL_SCALE);
      expect(faultsOf(samples).clipped).toBe(false);
      samples[1000] = limit;
      expect(faultsOf(samples).clipped).toBe(true);
    }
  });

  it('flat tops far below full scale: a sensor that ends at 2 g in a 16 g format', () => {
    for (const f of [12.5, 80, 200]) {
      const clipped = sine(f, 30).map((v) => Math.max(-19.6, Math.min(19.6, v)));
      expect(faultsOf(quantise16(clipped, FULL_SCALE)).clipped, `${f} Hz`).toBe(true);
      const oneSided = sine(f, 30).map((v) => Math.max(-19.6, v));
      expect(faultsOf(quantise16(oneSided, FULL_SCALE)).clipped, `${f} Hz, one side`).toBe(true);
    }
    const noisy = gaussianNoise(3, 10, RATE).map((v) => Math.min(12, v));
    noisy.set([12, 12, 12], 100);
    expect(faultsOf(noisy).clipped).toBe(true);
  });

  it('a smooth peak made flat by coarse steps is no clipping', () => {
    for (const rate of [1600, 3200, 25_600, 51_200]) {
      for (const f of [2, 10, 12.5, 25]) {
        for (const steps of [3.2, 20, 91.3, 1000]) {
          const smooth = quantise16(sine(f, steps * LSB, rate, rate), FULL_SCALE);
          expect(faultsOf(smooth, FULL_SCALE, rate).clipped, `${rate} Hz, ${f} Hz, ${steps} steps`).toBe(
            false,
          );
        }
      }
    }
  });

  it('noise of any size against the steps, and a block that ends on a peak, are no clipping', () => {
    for (const steps of [0.3, 1, 3, 30, 300]) {
      for (let seed = 1; seed <= 40; seed++) {
        expect(faultsOf(quantise16(gaussianNoise(seed, steps * LSB, RATE), FULL_SCALE)).clipped).toBe(false);
      }
    }
    const rising = quantise16(sine(1, 10, 700), FULL_SCALE);
    expect(faultsOf(rising).clipped).toBe(false);
  });

  it('without a known scale flat tops are still seen', () => {
    expect(
      faultsOf(
        sine(80, 30).map((v) => Math.min(19.6, v)),
        0,
      ).clipped,
    ).toBe(true);
    expect(faultsOf(sine(80, 1e9), 0).clipped).toBe(false);
  });
});

describe('stuck', () => {
  it('a constant block, and a block that freezes for 0.1 s', () => {
    expect(faultsOf(new Float64Array(RATE).fill(9.80665)).stuck).toBe(true);
    expect(faultsOf(new Float64Array(RATE)).stuck).toBe(true);
    const frozen = quantise16(gaussianNoise(4, 1, RATE), FULL_SCALE);
    frozen.fill(frozen[2000]!, 2000, 2320);
    expect(faultsOf(frozen)).toEqual({ clipped: false, stuck: true });
    const tail = quantise16(gaussianNoise(4, 1, RATE), FULL_SCALE);
    tail.fill(tail[2000]!, 2000);
    expect(faultsOf(tail).stuck).toBe(true);
  });

  it('noise down to a tenth of a step is alive', () => {
    for (const steps of [0.15, 0.3, 1, 10]) {
      for (let seed = 1; seed <= 20; seed++) {
        const quiet = quantise16(gaussianNoise(seed, steps * LSB, RATE), FULL_SCALE);
        const moves = quiet.some((v) => v !== quiet[0]);
        expect(faultsOf(quiet).stuck, `${steps} steps, seed ${seed}`).toBe(!moves);
      }
    }
  });

  it('a slow sine of a few steps without noise is alive', () => {
    for (const rate of [1600, 3200, 25_600]) {
      for (const f of [10, 12.5, 80]) {
        const coarse = quantise16(sine(f, 3.2 * LSB, rate, rate), FULL_SCALE);
        expect(faultsOf(coarse, FULL_SCALE, rate).stuck, `${rate} Hz, ${f} Hz`).toBe(false);
      }
    }
  });

  it('a few equal samples at the end of a recording, one sample or none say nothing', () => {
    for (const count of [0, 1, 2, 10]) expect(faultsOf(new Float64Array(count)).stuck).toBe(false);
  });
});

it('each block is judged by itself, and not by how it was cut', () => {
  const detector = createSignalFaultDetector(FULL_SCALE, RATE);
  const bad = sine(80, 30).map((v) => Math.min(19.6, v));
  for (const sample of bad) detector.add(Float64Array.of(sample));
  expect(detector.take()).toEqual({ clipped: true, stuck: false });
  detector.add(quantise16(sum(velocitySine(80, 5, RATE, RATE), gaussianNoise(1, 0.1, RATE)), FULL_SCALE));
  expect(detector.take()).toEqual({ clipped: false, stuck: false });
});
