import { expect, it } from 'vitest';
import { flatTops } from '../../../collector/inquiry/flat-tops.ts';

it('finds where samples stand at the end of their range, joined, and no peak that just fits', () => {
  const axis = new Float32Array(4000).fill(100);
  axis[50] = 32_767;
  axis.fill(32_767, 1000, 1004);
  axis.fill(-32_768, 1050, 1060);
  axis.fill(32_767, 3997, 4000);
  expect(flatTops([new Float32Array(4000), axis], 5_000, 1000)).toEqual([
    { fromMs: 6_000, toMs: 6_060 },
    { fromMs: 8_997, toMs: 9_000 },
  ]);
});
