import { describe, expect, it } from 'vitest';
import {
  conditionBin,
  ROAD_BINS,
  STEADY_BIN,
  stretchAt,
  wasRunning,
} from '../../../collector/trend/condition.ts';
import { comparePeers } from '../../../collector/trend/peers.ts';
import { levelDb, ratioOfDb } from '../../../collector/trend/robust.ts';
import { trendIndex } from '../../../collector/trend/trend-index.ts';
import { autoregression, DAY_MS } from './noise.ts';

describe('condition bins', () => {
  it('name speed, load and gear, lower edge included', () => {
    expect(conditionBin({ speedKmH: 50, loadPercent: 30, gear: '3' }, ROAD_BINS)).toBe(
      '50-60 km/h, load 25-50 %, gear 3',
    );
    expect(conditionBin({ speedKmH: 49.9, loadPercent: 0, gear: '3' }, ROAD_BINS)).toBe(
      '40-50 km/h, load 0-25 %, gear 3',
    );
    expect(conditionBin({}, STEADY_BIN)).toBe('any');
  });

  it('know no bin for what is not known', () => {
    expect(conditionBin({ speedKmH: 50, gear: '3' }, ROAD_BINS)).toBeNull();
    expect(conditionBin({ speedKmH: Number.NaN, loadPercent: 1, gear: '3' }, ROAD_BINS)).toBeNull();
  });

  it('a moved mount begins a new stretch', () => {
    const breaks = [
      { timeMs: 10, reason: 'mount-moved' as const },
      { timeMs: 20, reason: 'new-tyre' as const },
    ];
    expect([9, 10, 19, 25].map((timeMs) => stretchAt(timeMs, breaks))).toEqual([0, 1, 1, 2]);
  });

  it('a standing machine was not running', () => {
    expect(wasRunning(0.9, 1)).toBe(true);
    expect(wasRunning(0.02, 1)).toBe(false);
  });
});

describe('trend index', () => {
  const bins = [
    { bin: '40-50 km/h', db: 0 },
    { bin: '80-90 km/h', db: 9 },
  ];

  it('mixed speeds without wear stay at 1, though their levels differ by 9 dB', () => {
    const noise = autoregression(1, 0.2);
    const levels = Array.from({ length: 60 }, (_, k) => {
      const { bin, db } = bins[(k * k + k) % 3 === 0 ? 1 : 0]!;
      return { timeMs: k * DAY_MS, bin, value: ratioOfDb(db + 0.5 * noise()) };
    });
    const { points, bins: known, waiting } = trendIndex(levels);
    expect(known).toHaveLength(2);
    expect(waiting).toEqual([]);
    for (const { value } of points) expect(Math.abs(levelDb(value, 1))).toBeLessThan(2.2);
  });

  it('a bin driven only later is put where the others stood', () => {
    const noise = autoregression(2, 0);
    const levels = Array.from({ length: 60 }, (_, k) => {
      const late = k >= 30 && k % 2 === 0;
      const wear = 0.1 * k;
      return {
        timeMs: k * DAY_MS,
        bin: bins[late ? 1 : 0]!.bin,
        value: ratioOfDb((late ? 9 : 0) + wear + 0.2 * noise()),
      };
    });
    const { points, bins: known } = trendIndex(levels);
    expect(known[1]!.offsetDb).toBeGreaterThan(2.5);
    // 5.9 dB of wear at the end, less 0.55 dB that the first baseline took in.
    expect(levelDb(points.at(-1)!.value, 1)).toBeCloseTo(5.35, 0);
  });

  it('says which bins cannot be used yet, and leaves out a standing machine', () => {
    const levels = Array.from({ length: 12 }, (_, k) => ({
      timeMs: k,
      bin: 'a',
      value: k === 10 ? 0.01 : 1,
    }));
    const { waiting, notRunning, points } = trendIndex([...levels, { timeMs: 3, bin: 'b', value: 4 }]);
    expect(waiting).toEqual([{ bin: 'b', runsMissing: 7 }]);
    expect(notRunning).toHaveLength(1);
    expect(points).toHaveLength(11);
    expect(trendIndex([]).points).toEqual([]);
  });
});

describe('peers', () => {
  const peer = (id: string, changeDb: number) => ({ id, changeDb, spreadDb: 0.3 });

  it('a rise that all share singles out none', () => {
    expect(
      comparePeers([peer('a', 4), peer('b', 4.5), peer('c', 3.8), peer('d', 4.1)]).standsApart,
    ).toBeNull();
  });

  it('the one that leads by a margin stands apart, though its neighbours rose with it', () => {
    const { standsApart, ranks } = comparePeers([peer('a', 2), peer('b', 9), peer('c', 3)]);
    expect(standsApart).toBe('b');
    expect(ranks[0]).toMatchObject({ id: 'b', beyondPeersDb: 6.5 });
  });

  it('two cannot tell', () => {
    expect(() => comparePeers([peer('a', 1), peer('b', 9)])).toThrow(/from three on/);
  });
});
