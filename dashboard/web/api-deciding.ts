/** Calls that concern repairs: watch plans, decisions, checks of repairs, the strip-down log. */
import type {
  Decision,
  DecisionAnswer,
  DecisionFigures,
  DecisionRequest,
  DecisionSupport,
  PartKind,
} from '../contract/decisions.ts';
import type { RepairCheck, RepairCheckRequest, RepairDone, RepairRuns } from '../contract/repair-checks.ts';
import type { StripDown, StripDownRequest, StripDowns } from '../contract/strip-downs.ts';
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
    repairChecks: (assetId: number) => call<RepairCheck[]>('GET', `/assets/${assetId}/repair-checks`),
    stateRepair: (assetId: number, request: RepairCheckRequest) =>
      call<RepairCheck>('POST', `/assets/${assetId}/repair-checks`, request),
    repaired: (checkId: number, done: RepairDone) =>
      call<RepairCheck>('POST', `/repair-checks/${checkId}/repair`, done),
    chooseRepairRuns: (checkId: number, runs: RepairRuns) =>
      call<RepairCheck>('PUT', `/repair-checks/${checkId}/runs`, runs),
    concludeRepair: (checkId: number) => call<RepairCheck>('POST', `/repair-checks/${checkId}/conclude`),
    stripDowns: (assetId: number | null) => call<StripDowns>('GET', `/strip-downs${queryText({ assetId })}`),
    addStripDown: (assetId: number, request: StripDownRequest) =>
      call<StripDown>('POST', `/assets/${assetId}/strip-downs`, request),
    removeStripDown: (id: number) => call('DELETE', `/strip-downs/${id}`),
  };
}

function queryText(query: Record<string, string | number | null>): string {
  const given = Object.entries(query).flatMap(([name, value]): [string, string][] =>
    value === null ? [] : [[name, String(value)]],
  );
  return given.length === 0 ? '' : `?${new URLSearchParams(given)}`;
}
