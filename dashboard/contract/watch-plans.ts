/** Watch plans: how a repair that was put off is waited for, as agreed between people. */
import { type Static, Type } from 'typebox';
import { TrendValue } from './model.ts';
import { ManoeuvreId, RunKind } from './runs.ts';
import { Id, IdOrNull, Millis, NumberOrNull, SomeText, Text, TextOrNull } from './scalars.ts';

const Days = Type.Number({ minimum: 0.5, maximum: 730 });

/** A level that ends the waiting. */
export const StopLimit = Type.Object(
  {
    locationId: Id,
    value: TrendValue,
    /** `level`: in the value's own unit; `ratio`: times the baseline, over all conditions. */
    basis: Type.Enum(['level', 'ratio']),
    /** Condition whose runs are asked, for a level in its unit; null: all of a machine's days. */
    bin: Type.Union([Type.String({ minLength: 1, maxLength: 200 }), Type.Null()]),
    limit: Type.Number({ exclusiveMinimum: 0, maximum: 1e6 }),
  },
  { additionalProperties: false },
);
export type StopLimit = Static<typeof StopLimit>;

/** What ends the waiting without a sensor: heard, felt, smelt, seen. */
export const StopSign = Type.Object(
  {
    text: SomeText(200),
    /** `common-practice`: offered by the station, without a source. */
    source: Type.Enum(['own', 'common-practice']),
  },
  { additionalProperties: false },
);
export type StopSign = Static<typeof StopSign>;

/** How a measurement must be made to count. */
export const WatchConditions = Type.Object(
  {
    /** Kind of run; a machine is measured in its place, day by day. */
    kind: RunKind,
    manoeuvres: Type.Array(ManoeuvreId, { maxItems: 6 }),
    /** Conditions of the trend of which at least one must come up; empty: any. */
    bins: Type.Array(Type.String({ minLength: 1, maxLength: 200 }), { maxItems: 12 }),
    speed: Text(200),
    load: Text(200),
    note: Text(500),
  },
  { additionalProperties: false },
);
export type WatchConditions = Static<typeof WatchConditions>;

/**
 * POST /api/assets/:id/watch-plans -> WatchPlan: begins a plan; one that is open for the same place ends as replaced.
 * GET -> WatchPlan[], newest first.
 */
export const WatchPlanRequest = Type.Object({
  /** Null: the asset as a whole. */
  locationId: IdOrNull,
  everyDays: Days,
  /** Why this interval: the trend's reason as suggested, or the people's own. */
  everyReason: Text(500),
  conditions: WatchConditions,
  stopLimits: Type.Array(StopLimit, { maxItems: 8 }),
  stopSigns: Type.Array(StopSign, { maxItems: 20 }),
  /** Who is told, and how: free text. */
  tell: SomeText(300),
  agreedBy: SomeText(200),
});
export type WatchPlanRequest = Static<typeof WatchPlanRequest>;

export const WatchPlan = Type.Object({
  id: Id,
  assetId: Id,
  ...WatchPlanRequest.properties,
  startedMs: Millis,
  startedBy: Type.String(),
  endedMs: Type.Union([Millis, Type.Null()]),
  endedBy: TextOrNull,
  endReason: TextOrNull,
  /** Set where waiting goes against the safety advice. */
  caution: TextOrNull,
  /** End of the last run that counts; null when none has been made since the plan began. */
  lastCountedMs: NumberOrNull,
  /** When to measure again. Null for a plan that has ended. */
  nextDueMs: NumberOrNull,
  /** 0 while it is not due yet. */
  overdueMs: Type.Number(),
  /** The stop limits as they stand now, in their order. */
  standing: Type.Array(
    Type.Object({
      /** Middle of the last three runs; null: not known. */
      now: NumberOrNull,
      /** Null: cannot be said, and why. */
      reached: Type.Union([Type.Boolean(), Type.Null()]),
      sentence: Type.String(),
    }),
  ),
});
export type WatchPlan = Static<typeof WatchPlan>;

/** GET /api/watch-plans -> OpenWatchPlan[]: open plans of all assets, the longest overdue first. */
export const OpenWatchPlan = Type.Object({
  id: Id,
  assetId: Id,
  assetName: Type.String(),
  locationId: IdOrNull,
  location: TextOrNull,
  everyDays: Days,
  tell: Type.String(),
  lastCountedMs: NumberOrNull,
  nextDueMs: Type.Number(),
  overdueMs: Type.Number(),
  /** Stop limits that the newest runs have reached. */
  reached: Type.Array(Type.String()),
});
export type OpenWatchPlan = Static<typeof OpenWatchPlan>;

/** POST /api/watch-plans/:id/end -> WatchPlan. */
export const WatchPlanEnd = Type.Object({ reason: SomeText(300) });
export type WatchPlanEnd = Static<typeof WatchPlanEnd>;

/** GET /api/assets/:id/watch-suggestion?locationId&shortestDays&longestDays -> WatchSuggestion. */
export const WatchSuggestionQuery = Type.Object({
  locationId: Type.Optional(Id),
  /** Bounds that the people agree on; left out: 1 and 28 days. */
  shortestDays: Type.Optional(Days),
  longestDays: Type.Optional(Days),
});
export type WatchSuggestionQuery = Static<typeof WatchSuggestionQuery>;

export const WatchSuggestion = Type.Object({
  everyDays: Days,
  /** Whole sentence: what set the interval. */
  reason: Type.String(),
  kind: RunKind,
  /** Conditions of the trend, those with most runs first. */
  bins: Type.Array(Type.String()),
  stopLimits: Type.Array(StopLimit),
  /** Offered, each without a source. */
  signs: Type.Array(Type.String()),
  /** Set where waiting is not to be planned at all. */
  caution: TextOrNull,
});
export type WatchSuggestion = Static<typeof WatchSuggestion>;
