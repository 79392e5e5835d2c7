import { describe, expect, it } from 'vitest';
import { diagnose } from '../../../../collector/analysis/diagnose.ts';
import { analysisPlot } from '../../../../collector/analysis/plot/analysis-plot.ts';
import { decadeTicks, linearTicks, tickText } from '../../../../collector/analysis/plot/scale.ts';
import { bearingMultipliers } from '../../../../collector/drivetrain/bearing.ts';
import { knownBearing } from '../../../../collector/drivetrain/known-bearings.ts';
import { addDefect, gaussian, seededRandom } from '../../../support/machine-signals.ts';

const multipliers = bearingMultipliers(knownBearing('6205')!.geometry);
const machine = { rate: 12_800, seconds: 4, shaftHz: 30, statedHz: 30, multipliers };
const random = seededRandom(1);
const noise = Float64Array.from({ length: 4 * 12_800 }, () => gaussian(random));
const defect = { part: 'outer' as const, snrDb: 0, slip: 0, jitter: 0.005 };
const samples = addDefect(noise, machine, defect, seededRandom(2));

describe('analysisPlot', () => {
  it('marks what was found and what was expected, and says it in words', () => {
    const { findings } = diagnose({ samples, sampleRateHz: 12_800, shaftHz: 30, bearing: multipliers });
    const svg = analysisPlot({
      title: 'Workshop extraction fan <rear> & co',
      samples,
      sampleRateHz: 12_800,
      shaftHz: 30,
      bearing: multipliers,
      findings,
    });
    expect(svg.startsWith('<svg ')).toBe(true);
    expect(svg.trimEnd().endsWith('</svg>')).toBe(true);
    expect(svg).toContain('&lt;rear&gt; &amp; co');
    expect(svg).toMatch(/Found: outer at 107\.\d Hz/);
    for (const label of ['inner race', 'cage', '2 x shaft', 'outer 107']) expect(svg).toContain(label);
    expect(svg).toContain('stroke-dasharray');
    expect(svg).not.toContain('NaN');
    expect(svg).not.toContain('Infinity');
    // Well-formed: every tag that opens closes.
    const open = [...svg.matchAll(/<([a-z]+)(?:\s[^>]*[^/])?>/g)].map((match) => match[1]).sort();
    const close = [...svg.matchAll(/<\/([a-z]+)>/g)].map((match) => match[1]).sort();
    expect(open).toEqual(close);
  });

  it('draws without speed, bearing or finding, and stays small for a long record', () => {
    const svg = analysisPlot({ title: 'noise', samples: noise, sampleRateHz: 12_800, findings: [] });
    expect(svg).toContain('No finding.');
    expect(svg.length).toBeLessThan(120_000);
  });

  it('draws silence', () => {
    const silence = new Float64Array(12_800);
    const svg = analysisPlot({ title: 'silence', samples: silence, sampleRateHz: 12_800, findings: [] });
    expect(svg).not.toContain('NaN');
  });
});

describe('axis numbers', () => {
  it('are round and few', () => {
    expect(linearTicks(617, 10)).toEqual([0, 100, 200, 300, 400, 500, 600]);
    expect(linearTicks(0.3, 5)).toEqual([0, 0.1, 0.2, 0.3]);
    expect(linearTicks(0, 5)).toEqual([0]);
    expect(decadeTicks(0.002, 30)).toEqual([0.01, 0.1, 1, 10]);
    expect([0, 0.25, 1500, 0.0001].map(tickText)).toEqual(['0', '0.25', '1500', '1e-4']);
  });
});
