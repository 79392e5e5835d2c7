import { describe, expect, it } from 'vitest';
import { breakEven, type CostQuestion, decisionCosts } from '../../../collector/trend/decision-costs.ts';
import { watchInterval } from '../../../collector/trend/watch-interval.ts';

const sure = (value: number) => ({ low: value, middle: value, high: value });
const about = (low: number, middle: number, high: number) => ({ low, middle, high });
const nothing = sure(0);

/**
 * Worked by hand. Kept 24 months, 20 000 km a year; labour 80 an hour; a breakdown costs 600 besides, the repair after it
 * 2000; a later planned repair 1500.
 *
 *   repair now: 700 + 6 h x 80 + 100 = 1280 at once; guarantee 12 months or 30 000 km = 18 months, so 12 months: half
 *     the period; 2 % x (600 + 0.5 x 2000) = 32; expected 1312; with a breakdown 1280 + 1600 = 2880.
 *   used unit: 400 + 6 h x 80 + 100 = 980; no guarantee; 10 % x (600 + 2000) = 260; expected 1240.
 *   wait: 0; 20 % (10 to 40) x 2600 = 520, and 30 % later repair x 1500 = 450; expected 970 (710 to 1490).
 *   break-even of waiting against repair now: p x 2600 + 450 = 1312, p = 33.15 %.
 */
const question: CostQuestion = {
  labourPerHour: sure(80),
  keptMonths: 24,
  usePerYearKm: 20_000,
  breakdownBesides: sure(600),
  repairAfterBreakdown: sure(2000),
  laterRepair: sure(1500),
  safety: { location: 'drive-train', findings: [] },
  options: [
    {
      name: 'repair now',
      parts: sure(700),
      labourHours: sure(6),
      besides: sure(100),
      breakdownChance: sure(0.02),
      laterRepairChance: nothing,
      warranty: { months: 12, distanceKm: 30_000 },
    },
    {
      name: 'used unit',
      parts: sure(400),
      labourHours: sure(6),
      besides: sure(100),
      breakdownChance: sure(0.1),
      laterRepairChance: nothing,
      warranty: null,
    },
    {
      name: 'wait',
      parts: nothing,
      labourHours: nothing,
      besides: nothing,
      breakdownChance: about(0.1, 0.2, 0.4),
      laterRepairChance: sure(0.3),
      warranty: null,
    },
  ],
};

describe('costs of each option', () => {
  it('are those worked by hand', () => {
    const { options, doNotDefer, caution } = decisionCosts(question);
    const [repair, used, wait] = options;
    expect(repair).toMatchObject({ coveredShare: 0.5, withoutBreakdown: 1280, withBreakdown: 2880 });
    expect(repair!.expected.middle).toBeCloseTo(1312, 9);
    expect(used!.expected.middle).toBeCloseTo(1240, 9);
    expect(wait!.expected.low).toBeCloseTo(710, 9);
    expect(wait!.expected.middle).toBeCloseTo(970, 9);
    expect(wait!.expected.high).toBeCloseTo(1490, 9);
    expect([doNotDefer, caution]).toEqual([false, null]);
  });

  it('break even where worked by hand, and cost the same there', () => {
    const { chance } = breakEven(question, 'wait', 'repair now');
    expect(chance).toBeCloseTo(862 / 2600, 9);
    const at = structuredClone(question);
    at.options[2]!.breakdownChance = sure(chance!);
    const { options } = decisionCosts(at);
    expect(options[2]!.expected.middle).toBeCloseTo(options[0]!.expected.middle, 9);
  });

  it('have no break-even when one is cheaper at every chance', () => {
    expect(breakEven({ ...question, laterRepair: sure(9000) }, 'wait', 'repair now')).toMatchObject({
      chance: null,
      always: 'repair now',
    });
    expect(
      breakEven(
        { ...question, repairAfterBreakdown: sure(10), breakdownBesides: nothing },
        'wait',
        'repair now',
      ),
    ).toMatchObject({
      chance: null,
      always: 'wait',
    });
  });

  it('a guarantee ends by distance or by time, whichever comes first', () => {
    const covered = (usePerYearKm: number) =>
      decisionCosts({ ...question, usePerYearKm }).options[0]!.coveredShare;
    expect(covered(60_000)).toBeCloseTo(0.25, 12);
    expect(covered(0)).toBe(0.5);
  });

  it.each(['wheel-bearing', 'steering', 'brake', 'structural'] as const)(
    '%s: not to be put off, whatever it costs',
    (kind) => {
      expect(decisionCosts({ ...question, safety: { location: kind, findings: [] } }).doNotDefer).toBe(true);
      const found = decisionCosts({ ...question, safety: { location: 'drive-train', findings: [kind] } });
      expect(found.caution).toMatch(/licensed technician/);
    },
  );

  it('refuse figures that cannot be, and name them', () => {
    const options = structuredClone(question.options);
    options[2]!.breakdownChance = about(0.5, 0.2, 0.6);
    expect(() => decisionCosts({ ...question, options })).toThrow(/wait: breakdownChance: .*must rise/);
    options[2]!.breakdownChance = about(0.5, 0.7, 0.9);
    expect(() => decisionCosts({ ...question, options })).toThrow(/add up to more than 1/);
    expect(() => decisionCosts({ ...question, keptMonths: 0 })).toThrow(/kept period/);
    expect(() => breakEven(question, 'wait', 'pray')).toThrow(/no option named "pray"/);
  });
});

describe('when to measure again', () => {
  const unknown = { kind: 'cannot-say-yet', reason: 'no-significant-rise', runs: 20 } as const;
  const base = {
    nowMs: 100,
    lastRunMs: 100,
    forecast: unknown,
    level: 1,
    stopLevel: 4,
    slopeHigh: null,
    alertRaised: false,
    raiseRuns: 2,
    shortestMs: 10,
    longestMs: 1000,
  };

  it('leaves room for the runs an alert needs, and one that fails, before the earliest date', () => {
    const forecast = { kind: 'range', fromMs: 400, middleMs: 600, toMs: 900, runs: 20 } as const;
    expect(watchInterval({ ...base, forecast })).toEqual({
      everyMs: 100,
      nextMs: 200,
      overdueMs: 0,
      basis: 'forecast',
    });
    expect(watchInterval({ ...base, forecast, nowMs: 230 }).overdueMs).toBe(30);
  });

  it('takes the steepest slope the data allow without a forecast, else what was agreed', () => {
    expect(watchInterval({ ...base, slopeHigh: 0.005 })).toMatchObject({
      everyMs: 200,
      basis: 'steepest-slope',
    });
    expect(watchInterval(base)).toMatchObject({ everyMs: 1000, basis: 'agreed-longest' });
    expect(watchInterval({ ...base, slopeHigh: 1 })).toMatchObject({ everyMs: 10, basis: 'agreed-shortest' });
    expect(watchInterval({ ...base, alertRaised: true })).toMatchObject({ everyMs: 500, basis: 'alert' });
  });

  it('at the stop level: at once as often as agreed; before any run: now', () => {
    expect(watchInterval({ ...base, level: 4 })).toMatchObject({ everyMs: 10, basis: 'stop-level-reached' });
    expect(watchInterval({ ...base, lastRunMs: null }).nextMs).toBe(100);
    expect(() => watchInterval({ ...base, shortestMs: 0 })).toThrow(/shortest interval/);
  });
});
