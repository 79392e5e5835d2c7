import { describe, expect, it } from 'vitest';
import {
  CLOCK_JITTER_US,
  clockAt,
  counterAt,
  relativeRateSd,
  startRateFit,
  updateRateFit,
} from '../../../collector/timeline/rate-fit.ts';
import { seeded } from '../../support/simulated-node.ts';

interface Oscillator {
  /** True rate at a moment, Hz. */
  rateHz(atS: number): number;
  jitterUs?: number;
  framesPerPacket?: number;
  seed?: number;
}

/** Feeds packets of a node until `untilS`; gives the fit and the truth at the end. */
function follow({ rateHz, jitterUs = 1000, framesPerPacket = 400, seed = 1 }: Oscillator, untilS: number) {
  const random = seeded(seed);
  const read = (atS: number) => 5e6 + atS * 1e6 + random() * jitterUs;
  const fit = startRateFit(0, read(0), 3200, 0.03, CLOCK_JITTER_US);
  let atS = 0;
  let counter = 0;
  while (atS < untilS) {
    atS += framesPerPacket / rateHz(atS);
    counter += framesPerPacket;
    updateRateFit(fit, counter, read(atS), CLOCK_JITTER_US);
  }
  const fittedHz = 1e6 / fit.periodUs;
  return {
    fit,
    atS,
    rateError: Math.abs(fittedHz / rateHz(atS) - 1),
    clockErrorUs: clockAt(fit, counter) - 5e6 - atS * 1e6,
  };
}

describe('rate fit', () => {
  it.each([0.95, 0.98, 1, 1.01, 1.05])('is within 0.01 %% after 60 s at %f of the nominal rate', (factor) => {
    for (let seed = 1; seed <= 20; seed++) {
      expect(follow({ rateHz: () => 3200 * factor, seed }, 60).rateError).toBeLessThan(1e-4);
    }
  });

  it('needs no more when packets are few and large, or many and small', () => {
    for (const framesPerPacket of [64, 1600, 8192]) {
      expect(follow({ rateHz: () => 3300, framesPerPacket }, 60).rateError).toBeLessThan(1e-4);
    }
  });

  it('follows an oscillator that warms up', () => {
    // 0.2 % over ten minutes.
    const warming = follow({ rateHz: (s) => 3200 * (1 + (0.002 * s) / 600) }, 600);
    expect(warming.rateError).toBeLessThan(3e-4);
    expect(Math.abs(warming.clockErrorUs)).toBeLessThan(3000);
  });

  it('knows how well it knows', () => {
    const early = follow({ rateHz: () => 3200 }, 1);
    const late = follow({ rateHz: () => 3200 }, 60);
    expect(relativeRateSd(late.fit)).toBeLessThan(relativeRateSd(early.fit) / 10);
    expect(late.rateError).toBeLessThan(4 * relativeRateSd(late.fit));
  });

  it('is not bent by single late readings of the clock', () => {
    const fit = startRateFit(0, 0, 3200, 0.03, CLOCK_JITTER_US);
    for (let packet = 1; packet <= 480; packet++) {
      const late = packet % 40 === 0 ? 40_000 : 0;
      updateRateFit(fit, packet * 400, packet * 125_000 + late, CLOCK_JITTER_US);
    }
    expect(Math.abs(1e6 / fit.periodUs / 3200 - 1)).toBeLessThan(1e-4);
    expect(Math.abs(clockAt(fit, 480 * 400) - 480 * 125_000)).toBeLessThan(2000);
  });

  it('goes from counter to clock and back', () => {
    const { fit } = follow({ rateHz: () => 3111 }, 10);
    for (const counter of [0, 12_345.5, 1e9])
      expect(counterAt(fit, clockAt(fit, counter))).toBeCloseTo(counter, 3);
  });
});
