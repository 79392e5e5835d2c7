import type { LocationTrend, TrendsQuery } from '../../contract/weeks.ts';
import type { RecordStore } from '../records/record-store.ts';
import { locationTrend, type TrendDeps } from './location-trend.ts';

/** Trends as they were worked out, until something they are made of changes. */
export interface Trends {
  of(locationId: number, query?: Omit<TrendsQuery, 'locationIds'>): Promise<LocationTrend>;
  close(): void;
}

const MOST_KEPT = 200;
/** Forecast and words go by the date: an answer is worked out again at least this often. */
const KEEP_MS = 3_600_000;

export function createTrends(deps: TrendDeps): Trends {
  const kept = new Map<string, { answer: Promise<LocationTrend>; madeMs: number }>();
  const stop = forgetOnChange(deps.records, kept);
  return {
    of(locationId, query = {}) {
      // Asked for "until now", the end of the span moves on: it must not make each question a new one.
      const key = JSON.stringify([locationId, query]);
      const known = kept.get(key);
      if (known !== undefined && deps.now() - known.madeMs < KEEP_MS) return known.answer;
      const answer = locationTrend(deps, locationId, query);
      if (kept.size >= MOST_KEPT) kept.delete(kept.keys().next().value!);
      kept.set(key, { answer, madeMs: deps.now() });
      answer.catch(() => kept.delete(key));
      return answer;
    },
    close: stop,
  };
}

function forgetOnChange(records: RecordStore, kept: Map<string, unknown>): () => void {
  return records.onChange((change) => {
    if (change.kind === 'levels') {
      for (const key of kept.keys()) if (key.startsWith(`[${change.locationId},`)) kept.delete(key);
    } else if (change.kind === 'assets' || change.kind === 'events') kept.clear();
  });
}
