import { describe, expect, it } from 'vitest';
import { ALERT_RULE } from '../../../collector/trend/alarm-chain.ts';
import { observe, QUIET, stepAlert } from '../../../collector/trend/alert.ts';
import type { Baseline } from '../../../collector/trend/baseline.ts';
import {
  CLEAR_SHARE,
  falseAlarmsPerYear,
  falseFindingsPerYear,
  limitForRate,
} from '../../../collector/trend/false-alarms.ts';
import { changeLimits, zoneLimits } from '../../../collector/trend/limits.ts';
import { median, robustSd } from '../../../collector/trend/robust.ts';
import { silences } from '../../../collector/trend/silence.ts';
import { watchLevels } from '../../../collector/trend/watch.ts';
import { countChangeAlarms, countFindingAlarms, gaussianScatter } from '../../validate/trend-false-alarms.ts';
import { autoregression, DAY_MS, take } from './noise.ts';

function run(levels: string) {
  let state = QUIET;
  return [...levels].map((letter, k) => {
    const step = stepAlert(state, letter === 'a' ? 'above' : letter === '-' ? 'between' : 'below', k);
    state = step.state;
    return step.change;
  });
}

describe('alert', () => {
  it('one wild run raises nothing, the second of three does, once', () => {
    expect(run('bababaaa').indexOf('raised')).toBe(3);
    expect(run('aaaaaa').filter((change) => change === 'raised')).toHaveLength(1);
    expect(run('abbabbabb').filter(Boolean)).toEqual([]);
  });

  it('clears only after three runs in a row below the clearing limit', () => {
    expect(run('aabb-bbb').indexOf('cleared')).toBe(7);
    expect(run('aa---------').filter((change) => change === 'cleared')).toEqual([]);
  });

  it('forgets what was before once cleared', () => {
    expect(run('aabbbab').filter((change) => change === 'raised')).toHaveLength(1);
  });

  it('places a run against its limits', () => {
    const limits = { raiseAbove: 4, clearBelow: 3 };
    expect([4.1, 4, 3, 2.9].map((value) => observe(value, limits))).toEqual([
      'above',
      'between',
      'between',
      'below',
    ]);
  });
});

/** False raisings a year, counted on simulated runs through the same state machine. */
function countedPerYear(
  baselineRuns: number,
  limitSd: number,
  runsPerYear: number,
  lag1: number,
  stations: number,
) {
  const source = autoregression(baselineRuns + runsPerYear, lag1);
  let raised = 0;
  for (let station = 0; station < stations; station++) {
    take(20, source);
    const runs = take(baselineRuns, source);
    const middle = median(runs);
    const reach = limitSd * robustSd(runs);
    const limits = { raiseAbove: middle + reach, clearBelow: middle + CLEAR_SHARE * reach };
    let state = QUIET;
    for (let k = 0; k < runsPerYear; k++) {
      const step = stepAlert(state, observe(source(), limits), k);
      state = step.state;
      if (step.change === 'raised') raised++;
    }
  }
  return raised / stations;
}

describe('stated rate of false alarms', () => {
  it.each([
    [8, 3, 52, 0.3],
    [12, 3, 52, 0],
    [12, 3, 365, 0.3],
    [12, 4, 365, 0.6],
  ])(
    '%i baseline runs, limit %f spreads, %i runs a year, likeness %f: as counted',
    (runs, limitSd, perYear, lag1) => {
      const stated = falseAlarmsPerYear({ baselineRuns: runs, limitSd, runsPerYear: perYear, lag1 });
      const counted = countedPerYear(runs, limitSd, perYear, lag1, perYear > 100 ? 3000 : 6000);
      expect(stated / counted).toBeGreaterThan(0.8);
      expect(stated / counted).toBeLessThan(1.25);
    },
  );

  it('grows with likeness and with the measuring rate, and falls with more baseline runs', () => {
    const rate = (over: object) =>
      falseAlarmsPerYear({ baselineRuns: 12, limitSd: 3.5, runsPerYear: 100, lag1: 0.3, ...over });
    expect(rate({ lag1: 0.6 })).toBeGreaterThan(rate({}));
    expect(rate({ runsPerYear: 300 })).toBeGreaterThan(rate({}));
    expect(rate({ baselineRuns: 30 })).toBeLessThan(rate({}));
  });

  it('the limit chosen for a rate keeps it', () => {
    const design = { baselineRuns: 10, runsPerYear: 104 };
    const limitSd = limitForRate(0.1, design);
    expect(falseAlarmsPerYear({ ...design, limitSd })).toBeCloseTo(0.1, 2);
  });

  it('of unchanged stations, each with its own baseline and limit, is as counted', () => {
    const unchanged = (spreadDb: number) =>
      countChangeAlarms({
        scatter: gaussianScatter(0.3),
        spreadDb,
        runsPerYear: 52,
        wishPerYear: 0.5,
        stations: 600,
      });
    // Some 300 alarms: counted to 6 %, and the chain is an approximation.
    const wide = unchanged(3);
    expect(wide.stated / wide.counted).toBeGreaterThan(0.75);
    expect(wide.stated / wide.counted).toBeLessThan(1.33);
    // With little scatter the least change of 2 dB holds off the unlucky baselines: fewer come than are stated.
    const narrow = unchanged(1);
    expect(narrow.counted).toBeLessThan(narrow.stated);
  });

  it('of findings, three of four looks like the ones before, is as counted to a third', () => {
    const { stated, counted } = countFindingAlarms({
      chancePerLook: 0.02,
      looksPerYear: 52_560,
      lag1: 0.3,
      years: 6,
    });
    expect(stated / counted).toBeGreaterThan(0.67);
    expect(stated / counted).toBeLessThan(1.33);
  });

  it('of a finding is the binomial one: two of three runs at 1 in 100 each', () => {
    // First raising: two shows at distance 1 or 2, 2 p² per run to first order.
    expect(falseFindingsPerYear(0.01, 100)).toBeCloseTo(100 * 2 * 1e-4, 2);
    expect(falseFindingsPerYear(0, 100)).toBe(0);
  });
});

const known: Baseline = {
  known: true,
  runs: 12,
  fromMs: 0,
  toMs: 1,
  median: 1.2,
  mad: 0.02,
  spreadDb: 0.2,
  rising: false,
  passedOver: 0,
};
const wish = { falseAlarmsPerYear: 0.1, runsPerYear: 52 };

describe('limits', () => {
  it('a stationary machine: 25 % of the B/C boundary above the baseline (ISO 20816-1, from memory)', () => {
    const limits = changeLimits(known, { kind: 'stationary', boundaryBc: 2.8 }, wish);
    expect(limits.raiseAbove).toBeCloseTo(1.2 + 0.7, 12);
    expect(limits.basis).toBe('quarter-of-boundary');
    expect(limits.falseAlarmsPerYear).toBeLessThan(0.01);
  });

  it('a road run: its own scatter where that is wide, 2 dB where it is narrow', () => {
    const narrow = changeLimits(known, { kind: 'own-spread' }, wish);
    expect(narrow.basis).toBe('least-change');
    expect(narrow.raiseAbove / 1.2).toBeCloseTo(1.2589, 4);
    const wide = changeLimits({ ...known, spreadDb: 1.5 }, { kind: 'own-spread' }, wish);
    expect(wide.basis).toBe('own-spread');
    expect(wide.falseAlarmsPerYear).toBeCloseTo(0.1, 2);
  });

  it('a zone reached from the start is no false alarm', () => {
    expect(zoneLimits(2.8, known, wish).falseAlarmsPerYear).toBeLessThan(1e-3);
    expect(zoneLimits(1.1, known, wish).falseAlarmsPerYear).toBeNull();
    expect(zoneLimits(2.8, null, wish)).toMatchObject({ raiseAbove: 2.8, falseAlarmsPerYear: null });
  });
});

describe('watching a value', () => {
  const settings = {
    criterion: { kind: 'own-spread' as const },
    zoneBoundaries: [{ name: 'B/C', value: 2.8 }],
    wish,
  };
  const noise = autoregression(9, 0.2);
  const levels = take(40, (k) => 1 + 0.03 * noise() + (k > 20 ? 0.1 * (k - 20) : 0)).map((value, k) => ({
    timeMs: k * DAY_MS,
    value,
  }));

  it('raises change first, then the zone, and nothing while a machine stands', () => {
    const standing = take(6, (k) => ({ timeMs: (40 + k) * DAY_MS, value: 0.01 }));
    const { events, notRunning, alerts } = watchLevels([...levels, ...standing], settings);
    expect(events.map(({ about, change }) => `${about} ${change}`)).toEqual(['change raised', 'B/C raised']);
    expect(events[0]!.timeMs / DAY_MS).toBeLessThan(27);
    expect(notRunning).toHaveLength(6);
    // The alert is still up: standing still repairs nothing.
    expect(alerts.every(({ state }) => state.raised)).toBe(true);
    expect(ALERT_RULE.raiseRuns).toBe(2);
  });

  it('watches zones without a baseline, and change only with one', () => {
    const high = take(4, (k) => ({ timeMs: k, value: 5 }));
    const watched = watchLevels(high, settings);
    expect(watched.baseline).toMatchObject({ known: false, runsMissing: 4 });
    expect(watched.events).toMatchObject([{ about: 'B/C', change: 'raised', timeMs: 1 }]);
  });
});

describe('silence', () => {
  const question = {
    nowMs: 100,
    nodeLastSeenMs: 95,
    nodeMayBeQuietMs: 10,
    lastRunMs: 50,
    planFromMs: 0,
    planEveryMs: 60,
  };

  it('is no alert while all is heard in time', () => {
    expect(silences(question)).toEqual([]);
    expect(silences({ ...question, nodeMayBeQuietMs: null, planEveryMs: null, nowMs: 1e9 })).toEqual([]);
  });

  it('tells a quiet node and an overdue run, with since when', () => {
    expect(silences({ ...question, nowMs: 120 })).toEqual([
      { kind: 'node-quiet', dueMs: 105, overdueMs: 15 },
      { kind: 'run-overdue', dueMs: 110, overdueMs: 10 },
    ]);
    expect(silences({ ...question, lastRunMs: null, nodeLastSeenMs: null })).toHaveLength(2);
  });
});
