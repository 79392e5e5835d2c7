import { describe, expect, it } from 'vitest';
import { matchedComparison } from '../../../collector/trend/matched.ts';
import { ratioOfDb } from '../../../collector/trend/robust.ts';
import { autoregression, take } from './noise.ts';

const bins = [
  { bin: 'town', db: 0 },
  { bin: 'road', db: 12 },
];

/** `runs` of each bin, `changeDb` above its level, scatter 0.5 dB. */
function side(seed: number, runs: number, changeDb: number, stretch = 0) {
  const noise = autoregression(seed, 0);
  return bins.flatMap(({ bin, db }) =>
    take(runs, (k) => ({ timeMs: k, bin, stretch, value: ratioOfDb(db + changeDb + 0.5 * noise()) })),
  );
}

describe('matched comparison', () => {
  it('sees a repair of 4 dB though most runs after it were on the fast road', () => {
    const after = side(2, 6, -4).filter(({ bin, timeMs }) => bin === 'road' || timeMs < 3);
    const found = matchedComparison(side(1, 6, 0), after);
    expect(found).toMatchObject({ kind: 'compared', leftOut: [] });
    if (found.kind !== 'compared') return;
    expect(found.changeDb).toBeCloseTo(-4, 0);
    expect(found.highDb).toBeLessThan(-3);
    expect(found.bins.map(({ before, after: then }) => [before, then])).toEqual([
      [6, 3],
      [6, 6],
    ]);
  });

  it('its 95 % interval holds no change about that often', () => {
    const held = take<number>(250, (seed) => {
      const found = matchedComparison(side(2 * seed + 100, 5, 0), side(2 * seed + 101, 5, 0));
      return found.kind === 'compared' && found.lowDb <= 0 && found.highDb >= 0 ? 1 : 0;
    });
    const share = held.reduce((sum, v) => sum + v, 0) / held.length;
    expect(share).toBeGreaterThan(0.89);
    expect(share).toBeLessThan(0.995);
  });

  it('compares neither unlike bins nor unlike stretches', () => {
    const [town, road] = bins.map(({ bin }) => side(3, 4, 0).filter((level) => level.bin === bin));
    expect(matchedComparison(town!, road!)).toEqual({
      kind: 'not-compared',
      reason: 'no-common-bin',
      leftOut: ['town', 'road'],
    });
    expect(matchedComparison(side(1, 4, 0), side(2, 4, 0, 1))).toMatchObject({ reason: 'different-stretch' });
    expect(matchedComparison([...side(1, 4, 0), ...side(2, 4, 0, 1)], side(4, 4, 0, 1))).toMatchObject({
      reason: 'mixed-stretches',
    });
    expect(matchedComparison(side(1, 4, 0), side(2, 4, 0, 1), { acrossBreak: true }).kind).toBe('compared');
  });
});
