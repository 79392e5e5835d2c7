import { describe, expect, it } from 'vitest';
import { isCounted, isEasy, isHeadline, runCase, share } from '../../validate/compare.ts';

/** A short run of what tests/validate/compare.ts counts in full; its cases are no part of that count. */
const CASES = 40;
const FIRST_SEED = 900_001;

describe('synthetic feed-through with the true source known', () => {
  const outcomes = Array.from({ length: CASES }, (_, k) => runCase('evaluation', FIRST_SEED + k));

  it('is hardly ever wrong, over all paths, resonant ones and common causes too', () => {
    // The seeds are fixed: this holds what was measured, and one case in forty is the finest step it can tell.
    expect(share(outcomes.filter(isCounted)).wrong).toBeLessThanOrEqual(1);
  });
  it('decides at least 60 % of the easy cases', () => {
    const easy = share(outcomes.filter(isEasy));
    expect(easy.cases).toBeGreaterThan(3);
    expect(easy.right / easy.cases).toBeGreaterThanOrEqual(0.6);
  });
  it('names most sources that lead by more than 3 dB over smooth paths', () => {
    const headline = share(outcomes.filter(isHeadline));
    expect(headline.cases).toBeGreaterThan(5);
    expect(headline.right / headline.cases).toBeGreaterThan(0.8);
  });
  it('leaves a tone in one band alone', () => {
    const tones = outcomes.filter(({ kind, sourceId }) => kind === 'tone' && sourceId !== null);
    expect(tones.length).toBeGreaterThan(2);
    expect(share(tones).wrong).toBe(0);
  });
});
