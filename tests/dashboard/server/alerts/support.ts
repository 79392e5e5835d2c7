import { type AlertEngineDeps, createAlertEngine } from '../../../../dashboard/server/alerts/engine.ts';
import { queueMessages } from '../../../../dashboard/server/alerts/queue.ts';
import { directAnalyst } from '../../../../dashboard/server/runs/analyst.ts';
import { createTrends } from '../../../../dashboard/server/weeks/trend-cache.ts';
import type { testApp } from '../support.ts';

/** Longer than any test: rounds are made by hand. */
export const BY_HAND_MS = 1e9;
export const silent = { info() {}, warn() {}, error: console.error };

type Test = Pick<Awaited<ReturnType<typeof testApp>>, 'store' | 'time'>;

/** An engine on a station's records, as its server would run it; ticked by hand. */
export function engineOn({ store, time }: Test, deps: Partial<AlertEngineDeps> = {}) {
  const { now } = time;
  queueMessages(store, { site: 'depot', hasPoints: true, now });
  const trends = createTrends({ records: store, analyst: directAnalyst, now });
  const engine = createAlertEngine({
    records: store,
    trends,
    duePlans: () => [],
    lastHeardMs: () => time.now(),
    health: () => null,
    isListening: () => true,
    log: silent,
    tickMs: BY_HAND_MS,
    now,
    ...deps,
  });
  return {
    /** All that is due, however many rounds it takes. */
    async settle() {
      for (let round = 0; round <= store.assets.locations().length; round++) await engine.tick();
    },
    async stop() {
      await engine.close();
      trends.close();
    },
  };
}
