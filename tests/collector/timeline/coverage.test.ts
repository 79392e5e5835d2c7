import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cover, forget, MAX_RANGES, type Range, uncovered } from '../../../collector/timeline/coverage.ts';

const range = fc
  .tuple(fc.nat(300), fc.integer({ min: 1, max: 40 }))
  .map(([from, length]): Range => [from, from + length]);

describe('coverage', () => {
  it('says what a set of counters would say', () => {
    fc.assert(
      fc.property(fc.array(range, { maxLength: 40 }), range, (ranges, [from, to]) => {
        const covered: Range[] = [];
        const set = new Set<number>();
        for (const [low, high] of ranges) {
          cover(covered, low, high);
          for (let i = low; i < high; i++) set.add(i);
        }
        const missing: number[] = [];
        for (const [low, high] of uncovered(covered, from, to))
          for (let i = low; i < high; i++) missing.push(i);
        const expected = Array.from({ length: to - from }, (_, i) => from + i).filter((i) => !set.has(i));
        expect(missing).toEqual(expected);
        // Ranges stay in order and apart.
        for (let i = 1; i < covered.length; i++) expect(covered[i - 1]![1]).toBeLessThan(covered[i]![0]);
      }),
    );
  });

  it('forgets a range and nothing else', () => {
    fc.assert(
      fc.property(fc.array(range, { maxLength: 20 }), range, (ranges, [from, to]) => {
        const covered: Range[] = [];
        for (const [low, high] of ranges) cover(covered, low, high);
        const left = forget(covered, from, to);
        for (let i = 0; i < 345; i++) {
          const was = uncovered(covered, i, i + 1).length === 0;
          const is = uncovered(left, i, i + 1).length === 0;
          expect(is).toBe(was && (i < from || i >= to));
        }
      }),
    );
  });

  it('closes the smallest hole when there are too many', () => {
    const covered: Range[] = [];
    for (let i = 0; i <= MAX_RANGES; i++) cover(covered, i * 100, i * 100 + (i === 30 ? 95 : 50));
    expect(covered).toHaveLength(MAX_RANGES);
    expect(uncovered(covered, 3095, 3100)).toEqual([]);
    expect(uncovered(covered, 2050, 2100)).toEqual([[2050, 2100]]);
  });
});
