import { describe, expect, it } from 'vitest';
import { type Density, welch } from '../../../collector/dsp/spectrum.ts';
import { bandEdgeHz, toTwelfthOctaves } from '../../../collector/dsp/twelfth-octaves.ts';
import { gaussianNoise } from '../../support/signals.ts';

const RATE = 3200;
const TOP_HZ = 1250;

function bandsOf(density: Density) {
  const { firstBand, density: bands } = toTwelfthOctaves(density, TOP_HZ);
  return Array.from(bands, (value, i) => {
    const [fromHz, toHz] = [bandEdgeHz(firstBand + i), bandEdgeHz(firstBand + i + 1)];
    return { fromHz, toHz, density: value, meanSquare: value * (toHz - fromHz) };
  });
}

describe('twelfths of an octave', () => {
  it('have an edge at 1 kHz, 40 bands a decade and 12 in the base-ten octave (IEC 61260-1:2014, from memory)', () => {
    expect(bandEdgeHz(0)).toBe(1000);
    expect(bandEdgeHz(-40)).toBeCloseTo(100, 9);
    expect(bandEdgeHz(12) / bandEdgeHz(0)).toBeCloseTo(10 ** 0.3, 12);
    const { firstBand, density } = toTwelfthOctaves(
      { stepHz: 1, density: new Float64Array(2000), segments: 1 },
      TOP_HZ,
    );
    expect(bandEdgeHz(firstBand)).toBeCloseTo(5.01, 2);
    expect(bandEdgeHz(firstBand + density.length)).toBeLessThanOrEqual(TOP_HZ);
    expect(bandEdgeHz(firstBand + density.length + 1)).toBeGreaterThan(TOP_HZ);
  });

  it('keep the mean square of any density, also where bands are narrower than lines', () => {
    const spectrum = welch(gaussianNoise(3, 2, 8 * RATE), RATE, { segmentSamples: 2048 });
    const bands = bandsOf(spectrum);
    const kept = bands.reduce((sum, band) => sum + band.meanSquare, 0);
    // The same integral, straight from the lines as steps.
    let expected = 0;
    const [low, high] = [bands[0]!.fromHz, bands.at(-1)!.toHz];
    spectrum.density.forEach((value, k) => {
      const from = Math.max(low, (k - 0.5) * spectrum.stepHz);
      const to = Math.min(high, (k + 0.5) * spectrum.stepHz);
      if (to > from) expected += value * (to - from);
    });
    expect(kept / expected).toBeCloseTo(1, 12);
    for (const band of bands) expect(band.density).toBeGreaterThan(0);
  });

  it('read A² / 2 for a tone, in its own band', () => {
    const tone = Float64Array.from({ length: RATE }, (_, k) => 3 * Math.sin((2 * Math.PI * 313 * k) / RATE));
    const bands = bandsOf(welch(tone, RATE, { segmentSamples: 2048 }));
    const own = bands.find(({ fromHz, toHz }) => fromHz <= 313 && 313 < toHz)!;
    expect(own.meanSquare).toBeGreaterThan(0.97 * 4.5);
    expect(own.meanSquare).toBeLessThan(1.03 * 4.5);
    const rest = bands.reduce((sum, band) => sum + band.meanSquare, 0) - own.meanSquare;
    expect(rest).toBeLessThan(0.05);
  });

  it('are the same for two sample rates', () => {
    const noise = (rate: number) =>
      welch(gaussianNoise(5, Math.sqrt(rate / 2), 60 * rate), rate, { segmentSamples: 2048 });
    const [slow, fast] = [bandsOf(noise(3200)), bandsOf(noise(6400))];
    for (const [i, band] of slow.entries()) {
      if (band.fromHz < 60) continue;
      expect(fast[i]!.fromHz).toBe(band.fromHz);
      expect(Math.abs(10 * Math.log10(fast[i]!.density / band.density))).toBeLessThan(1.5);
    }
  });

  it('have nothing below their range', () => {
    expect(
      toTwelfthOctaves({ stepHz: 1, density: new Float64Array(9), segments: 1 }, 4).density,
    ).toHaveLength(0);
  });
});
