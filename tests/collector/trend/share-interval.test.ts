import { describe, expect, it } from 'vitest';
import { shareInterval } from '../../../collector/trend/share-interval.ts';

describe('the interval of a share seen in few cases', () => {
  // scipy 1.10.1: binomtest(k, n).proportion_ci(0.95, 'wilson'). The first four cases are also the table of Newcombe,
  // Statistics in Medicine 17 (1998) 857-872, method 3 (from memory): 0.2553 to 0.3662 and so on.
  it.each([
    [81, 263, 0.255289, 0.36621],
    [15, 148, 0.062386, 0.160487],
    [0, 20, 0, 0.161125],
    [1, 29, 0.006113, 0.171755],
    [3, 4, 0.300642, 0.954413],
    [7, 7, 0.64567, 1],
    [1, 1, 0.206549, 1],
    [12, 17, 0.468669, 0.8672],
  ])('%i of %i is that of scipy and of the published table', (hits, cases, low, high) => {
    const found = shareInterval(hits, cases)!;
    expect(found.share).toBe(hits / cases);
    expect(found.low).toBeCloseTo(low, 5);
    expect(found.high).toBeCloseTo(high, 5);
  });

  it('is none without a case, and refuses counts that cannot be', () => {
    expect(shareInterval(0, 0)).toBeNull();
    expect(() => shareInterval(3, 2)).toThrow(/between 0 and the cases, got 3 of 2/);
    expect(() => shareInterval(0.5, 2)).toThrow(RangeError);
  });
});
