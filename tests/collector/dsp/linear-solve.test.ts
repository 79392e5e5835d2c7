import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { solveLinear } from '../../../collector/dsp/linear-solve.ts';

describe('linear solve', () => {
  it('finds the x that made the right side, rows in any order', () => {
    const entry = fc.double({ min: -1, max: 1, noNaN: true });
    fc.assert(
      fc.property(
        fc.array(fc.array(entry, { minLength: 4, maxLength: 4 }), { minLength: 4, maxLength: 4 }),
        fc.array(entry, { minLength: 4, maxLength: 4 }),
        (random, x) => {
          // A heavy off-diagonal makes the matrix well-conditioned and the pivoting necessary.
          const matrix = random.map((row, i) => row.map((v, j) => v + (j === (i + 1) % 4 ? 8 : 0)));
          const right = matrix.map((row) => row.reduce((s, v, j) => s + v * x[j]!, 0));
          solveLinear(matrix, right).forEach((v, i) => {
            expect(v).toBeCloseTo(x[i]!, 10);
          });
        },
      ),
    );
  });

  it('refuses a singular system', () => {
    expect(() =>
      solveLinear(
        [
          [1, 2],
          [2, 4],
        ],
        [1, 2],
      ),
    ).toThrow(RangeError);
    expect(() =>
      solveLinear(
        [
          [0, 0],
          [0, 0],
        ],
        [0, 0],
      ),
    ).toThrow(/singular/);
  });
});
