import type { StopLimit, WatchPlan } from '../../contract/watch-plans.ts';
import type { LocationTrend } from '../../contract/weeks.ts';
import { UNITS } from '../weeks/location-trend.ts';
import { nowOf } from '../weeks/sentences.ts';
import type { Trends } from '../weeks/trend-cache.ts';
import { level } from '../weeks/words.ts';

type Standing = WatchPlan['standing'][number];

/** Names of values as a sentence has them. */
const VALUE_WORDS: Record<StopLimit['value'], string> = {
  velocityRmsMmPerS: 'velocity RMS',
  accelerationRmsMPerS2: 'acceleration RMS',
  accelerationPeakMPerS2: 'acceleration peak',
  crestFactor: 'crest factor',
  kurtosis: 'kurtosis',
};

/** Which stop limits have the newest runs reached? What is not known is said, never taken for "no". */
export function standingOf(trends: Trends, limits: readonly StopLimit[]): Promise<Standing[]> {
  return Promise.all(
    limits.map(async (limit) => {
      const { locationId, value, basis, bin } = limit;
      return standing(
        await trends.of(locationId, { value, ...(basis === 'level' ? { bin: bin ?? 'any' } : {}) }),
        limit,
      );
    }),
  );
}

function standing(trend: LocationTrend, limit: StopLimit): Standing {
  const scale = scaleOf(trend, limit);
  const subject = `${VALUE_WORDS[limit.value]} at ${trend.location}${limit.bin === null ? '' : ` (${limit.bin})`}`;
  const unit = limit.basis === 'ratio' ? 'times its baseline' : UNITS[limit.value];
  const amount = (of: number) => `${level(of)} ${unit}`.trim();
  const wish = `${subject}: stop at ${amount(limit.limit)}`;
  const now = nowOf(trend);
  if (now === null) return { now: null, reached: null, sentence: `${wish}; no run says where it stands.` };
  if (scale === null)
    return {
      now: null,
      reached: null,
      sentence: `${wish}; its baseline is not known yet, so it cannot be said.`,
    };
  const value = now / scale;
  const newest = trend.points.at(-1)!.value / scale;
  const reached = value >= limit.limit;
  const warning =
    !reached && newest >= limit.limit ? ' The newest alone lies above it: measure again at once.' : '';
  const sentence = `${wish}; the last three lie at ${amount(value)}: ${reached ? 'reached' : 'not reached'}.${warning}`;
  return { now: value, reached, sentence };
}

/** What the trend's numbers are to be divided by; null when that is not known. */
function scaleOf({ basis, baseline }: LocationTrend, { basis: asked }: StopLimit): number | null {
  if (basis === asked) return 1;
  return asked === 'ratio' && baseline.known ? baseline.median : null;
}
