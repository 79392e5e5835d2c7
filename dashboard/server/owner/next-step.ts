import { watchPlanDue } from '../deciding/watch-due.ts';
import { standingOf } from '../deciding/watch-standing.ts';
import { watchSuggestion } from '../deciding/watch-suggestion.ts';
import type { AssetRecord } from '../records/assets.ts';
import type { OwnedPlace, OwnerDeps } from './owner-view.ts';

export interface NextStep {
  text: string;
  byMs: number | null;
  /** What ends the waiting, as agreed. */
  signs: string[];
  /** Places that a plan waits with. */
  planned: OwnedPlace[];
}

const DAY_MS = 86_400_000;

/** What was agreed, where a watch plan is open; else what the trend asks for. */
export async function nextStep(
  deps: OwnerDeps,
  asset: AssetRecord,
  places: readonly OwnedPlace[],
): Promise<NextStep> {
  const { records, now } = deps;
  const urgent = places.find(
    ({ caution, standing, found }) => caution !== null && (standing.answer === 'worse' || found !== null),
  );
  // No plan and no sign to wait for stands beside "do not put this off".
  if (urgent !== undefined)
    return {
      text: `Do not use it until the ${urgent.label} has been inspected by a licensed technician.`,
      byMs: now(),
      signs: [],
      planned: [],
    };
  const plans = records.watchPlans.open().filter(({ assetId }) => assetId === asset.id);
  if (plans.length === 0) return fromTrend(deps, asset, places);
  const ids = new Set(records.assets.locations(asset.id).map(({ id }) => id));
  const limits = plans
    .flatMap(({ stopLimits }) => stopLimits)
    .filter(({ locationId }) => ids.has(locationId));
  const reached = (await standingOf(deps.trends, limits)).some((one) => one.reached === true);
  const signs = [...new Set(plans.flatMap(({ stopSigns }) => stopSigns.map(({ text }) => text)))];
  const planned = places.filter(({ location }) => plans.some(({ locationId }) => locationId === location.id));
  if (reached)
    return {
      text: 'A limit that was agreed on has been reached: the waiting is over. Call the workshop for the repair now.',
      byMs: now(),
      signs,
      planned,
    };
  const dueMs = Math.min(...plans.map((plan) => watchPlanDue(records, plan, now()).nextDueMs));
  const text =
    dueMs < now()
      ? 'The next measurement is overdue: call the workshop and have it measured.'
      : 'Have it measured again, as agreed with the workshop.';
  return { text, byMs: dueMs, signs, planned };
}

async function fromTrend(
  deps: OwnerDeps,
  asset: AssetRecord,
  places: readonly OwnedPlace[],
): Promise<NextStep> {
  const [worst] = places;
  const isWorse = worst?.standing.answer === 'worse';
  if (worst === undefined || worst.trend.points.length === 0)
    return { text: 'Ask the workshop to measure it.', byMs: null, signs: [], planned: [] };
  const accused = places.find(({ found }) => found !== null);
  const { everyDays, signs } = await watchSuggestion(
    deps,
    asset,
    isWorse ? { locationId: worst.location.id } : {},
  );
  const last = Math.max(...places.flatMap(({ trend: of }) => of.points.at(-1)?.timeMs ?? []));
  const byMs = last + everyDays * DAY_MS;
  if (accused !== undefined)
    return {
      text: `Have the ${accused.label} inspected: ${accused.found!.toLowerCase()}.`,
      byMs: Math.max(byMs, deps.now() + DAY_MS),
      signs,
      planned: [],
    };
  if (isWorse)
    return {
      text: `Ask the workshop to look at the ${worst.label}, or to agree on a plan for watching it.`,
      byMs: Math.max(byMs, deps.now() + DAY_MS),
      signs,
      planned: [],
    };
  return {
    text:
      worst.standing.answer === 'not-known'
        ? 'Have it measured again under the same conditions: more measurements are needed to tell.'
        : 'Have it measured again under the same conditions; until then nothing needs to be done.',
    byMs: Math.max(byMs, deps.now() + DAY_MS),
    signs: [],
    planned: [],
  };
}
