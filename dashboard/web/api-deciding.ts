/** Calls that concern repairs put off: watch plans, decisions. */
import type {
  Decision,
  DecisionAnswer,
  DecisionFigures,
  DecisionRequest,
  DecisionSupport,
  PartKind,
} from '../contract/decisions.ts';
import type { WatchPlan, WatchPlanRequest, WatchSuggestion } from '../contract/watch-plans.ts';
import type { Call } from './api-runs.ts';

export function decidingCalls(call: Call) {
  return {
    watchPlans: (assetId: number) => call<WatchPlan[]>('GET', `/assets/${assetId}/watch-plans`),
    watchSuggestion: (assetId: number, locationId: number | null) =>
      call<WatchSuggestion>('GET', `/assets/${assetId}/watch-suggestion${queryText({ locationId })}`),
    beginWatch: (assetId: number, plan: WatchPlanRequest) =>
      call<WatchPlan>('POST', `/assets/${assetId}/watch-plans`, plan),
    endWatch: (planId: number, reason: string) =>
      call<WatchPlan>('POST', `/watch-plans/${planId}/end`, { reason }),
    support: (locationId: number, query: { part: PartKind | null; keptMonths: number | null }) =>
      call<DecisionSupport>('GET', `/locations/${locationId}/decision-support${queryText(query)}`),
    costs: (assetId: number, figures: DecisionFigures) =>
      call<DecisionAnswer>('POST', `/assets/${assetId}/decision-costs`, figures),
    decisions: (assetId: number) => call<Decision[]>('GET', `/assets/${assetId}/decisions`),
    decide: (assetId: number, request: DecisionRequest) =>
      call<Decision>('POST', `/assets/${assetId}/decisions`, request),
  };
}

function queryText(query: Record<string, string | number | null>): string {
  const given = Object.entries(query).flatMap(([name, value]): [string, string][] =>
    value === null ? [] : [[name, String(value)]],
  );
  return given.length === 0 ? '' : `?${new URLSearchParams(given)}`;
}
