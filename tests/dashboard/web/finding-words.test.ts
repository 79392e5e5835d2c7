import { describe, expect, it } from 'vitest';
import { findingSentence, oneIn, rivalText, verdictText } from '../../../dashboard/web/finding-words.ts';

const FOUND = {
  kind: 'outer',
  frequencyHz: 107.36,
  expectedHz: 107.5,
  harmonics: 4,
  falseAlarmProbability: 1 / 400,
  modulationDepth: 0.3,
  bandHz: [1000, 2000] as [number, number],
  note: 'strikes',
  rivals: [],
};

describe('findings in words', () => {
  it('name part, bearing, line, harmonics and chance', () => {
    expect(findingSentence(FOUND, '6205')).toBe(
      'Outer race line of bearing 6205 at 107.4 Hz with 4 harmonics, expected at 107.5 Hz without slip; chance of this from noise 1 in 400.',
    );
    expect(findingSentence({ ...FOUND, kind: 'unexplained', expectedHz: null, harmonics: 1 }, null)).toBe(
      'Strikes that nothing stated explains at 107.4 Hz; chance of this from noise 1 in 400.',
    );
  });

  it('give rivals with their support, and a chance no rounder than it is', () => {
    const rival = {
      kind: 'inner',
      frequencyHz: 162.4,
      expectedHz: 162,
      harmonics: 2,
      falseAlarmProbability: 1 / 31,
    };
    expect(rivalText(rival)).toBe('inner race at 162.4 Hz, 2 harmonics, chance from noise 1 in 31');
    expect(oneIn(0.7)).toBe('more likely than not');
    expect(oneIn(1 / 12.2)).toBe('1 in 12');
  });

  it('say every verdict in words', () => {
    for (const verdict of ['none', 'outer', 'inner', 'ball', 'cage', 'not-clear', 'not-covered'])
      expect(verdictText(verdict, '6205')).toMatch(/^[A-Z][a-z]+ [^-]+$/);
  });
});
