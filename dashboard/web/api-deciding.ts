/** Calls that concern repairs put off: watch plans. */
import type { WatchPlan, WatchPlanRequest, WatchSuggestion } from '../contract/watch-plans.ts';
import type { Call } from './api-runs.ts';

export function decidingCalls(call: Call) {
  return {
    watchPlans: (assetId: number) => call<WatchPlan[]>('GET', `/assets/${assetId}/watch-plans`),
    watchSuggestion: (assetId: number, locationId: number | null) =>
      call<WatchSuggestion>(
        'GET',
        `/assets/${assetId}/watch-suggestion${locationId === null ? '' : `?locationId=${locationId}`}`,
      ),
    beginWatch: (assetId: number, plan: WatchPlanRequest) =>
      call<WatchPlan>('POST', `/assets/${assetId}/watch-plans`, plan),
    endWatch: (planId: number, reason: string) =>
      call<WatchPlan>('POST', `/watch-plans/${planId}/end`, { reason }),
  };
}
