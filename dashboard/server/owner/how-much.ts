/** How a trend stands, for somebody who has never seen one. Pure. */
import type { OwnerView } from '../../contract/owner.ts';
import type { LocationTrend } from '../../contract/weeks.ts';
import { significant } from '../../contract/words/figures.ts';
import { nowOf, SIGNIFICANT } from '../weeks/sentences.ts';
import { level } from '../weeks/words.ts';

export interface Standing {
  answer: OwnerView['answer'];
  /** "62 ± 11 % stronger than normal"; null where it cannot be said. */
  change: string | null;
  /** "2.10 ± 0.12 mm/s, normally 1.20 mm/s"; null for a trend over all conditions, or without a baseline. */
  level: string | null;
  /** Times the baseline; null where it cannot be said. */
  ratio: number | null;
}

/** Variance of the middle of three, over that of one: 0.449 for a normal distribution (order statistics, from memory). */
const MIDDLE_OF_THREE = 0.449;
/** Variance of a median of many, over that of a mean: pi / 2. */
const MEDIAN = Math.PI / 2;

/**
 * The last three runs against the baseline. The ± is twice the standard deviation that the run-to-run scatter of the
 * baseline gives to both; sensor and mount are the same before and now and take no part in a ratio.
 */
export function standingOfTrend(trend: LocationTrend): Standing {
  const { baseline, alerts, test, line, unit } = trend;
  const now = nowOf(trend);
  if (!baseline.known || now === null) return { answer: 'not-known', change: null, level: null, ratio: null };
  const { median, spreadDb, runs } = baseline;
  const ratio = now / median;
  const nowRatio = 10 ** ((2 * spreadDb * Math.sqrt(MIDDLE_OF_THREE)) / 20) - 1;
  const bothRatio = 10 ** ((2 * spreadDb * Math.sqrt(MIDDLE_OF_THREE + MEDIAN / runs)) / 20) - 1;
  const percent = Math.round(100 * Math.abs(ratio - 1));
  const range = Math.max(1, Math.ceil(100 * ratio * bothRatio));
  const raised = alerts.some(({ about, raised: up }) => about === 'change' && up);
  const moves = test !== null && line !== null && test.pValue < SIGNIFICANT;
  const answer =
    raised || (moves && line.perWeek > 0 && percent > range && ratio > 1)
      ? ('worse' as const)
      : moves && line.perWeek < 0 && percent > range && ratio < 1
        ? ('better' as const)
        : ('steady' as const);
  return {
    answer,
    change: `${percent} ± ${range}\u00a0% ${ratio >= 1 ? 'stronger' : 'weaker'} than normal`,
    level:
      unit === ''
        ? null
        : `${level(now)} ± ${significant(now * nowRatio, 2)}\u00a0${unit}, normally ${level(median)}\u00a0${unit}`,
    ratio,
  };
}
