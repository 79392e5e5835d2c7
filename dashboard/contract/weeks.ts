/** Levels over weeks: run summaries, trends, and what happened to an asset meanwhile. */
import { type Static, Type } from 'typebox';
import { TrendValue } from './model.ts';
import { Id, Millis, NumberOrNull, OrNull } from './scalars.ts';

/** What can happen to an asset that a trend should show. All but `note` begin a new stretch of its trends. */
export const EventKind = Type.Enum(['repair', 'oil-change', 'new-tyre', 'other', 'note']);
export type EventKind = Static<typeof EventKind>;

export const AssetEvent = Type.Object({
  id: Id,
  assetId: Id,
  atMs: Millis,
  kind: EventKind,
  note: Type.String(),
  by: Type.String(),
});
export type AssetEvent = Static<typeof AssetEvent>;

/** POST /api/assets/:id/events -> AssetEvent. GET -> AssetEvent[], oldest first. DELETE .../events/:part. */
export const AssetEventRequest = Type.Object({
  /** Left out: now. */
  atMs: Type.Optional(Millis),
  kind: EventKind,
  note: Type.String({ maxLength: 300 }),
});
export type AssetEventRequest = Static<typeof AssetEventRequest>;

/**
 * GET /api/trends?locationIds=1,2&value&bin&limit&fromMs&toMs -> Trends: one for each location, up to eight.
 * Points are run summaries (a run of a vehicle, a day of a machine), never single readings.
 */
export const TrendsQuery = Type.Object({
  locationIds: Type.String({ pattern: '^[1-9]\\d{0,14}(,[1-9]\\d{0,14}){0,7}$' }),
  value: Type.Optional(TrendValue),
  /** Name of one condition, for values in their unit; left out: all conditions, each against its own baseline. */
  bin: Type.Optional(Type.String({ minLength: 1, maxLength: 200 })),
  /** Level to foresee, in the trend's own unit; left out: the watch plan's, else a usual one. */
  limit: Type.Optional(Type.Number({ exclusiveMinimum: 0 })),
  fromMs: Type.Optional(Millis),
  toMs: Type.Optional(Millis),
});
export type TrendsQuery = Static<typeof TrendsQuery>;

const Baseline = Type.Union([
  Type.Object({
    known: Type.Literal(true),
    runs: Type.Integer(),
    fromMs: Type.Number(),
    toMs: Type.Number(),
    median: Type.Number(),
    mad: Type.Number(),
    /** From run to run, dB. */
    spreadDb: Type.Number(),
    /** It rose already while the baseline was taken. */
    rising: Type.Boolean(),
    /** Runs before it, passed over because the level still fell. */
    passedOver: Type.Integer(),
  }),
  Type.Object({
    known: Type.Literal(false),
    runsMissing: Type.Integer(),
    reason: Type.Enum(['too-few-runs', 'bedding-in']),
  }),
]);

const TrendAlert = Type.Object({
  /** `change`, or the zone boundary's name. */
  about: Type.String(),
  raiseAbove: Type.Number(),
  clearBelow: Type.Number(),
  /** Expected from an unchanged machine; null: the baseline itself lies above. */
  falseAlarmsPerYear: NumberOrNull,
  raised: Type.Boolean(),
  sinceMs: NumberOrNull,
});

const Forecast = Type.Union([
  Type.Object({
    kind: Type.Literal('range'),
    fromMs: Type.Number(),
    middleMs: Type.Number(),
    toMs: Type.Number(),
    runs: Type.Integer(),
  }),
  Type.Object({ kind: Type.Literal('reached'), sinceMs: Type.Number() }),
  Type.Object({ kind: Type.Literal('cannot-say-yet'), reason: Type.String(), runs: Type.Integer() }),
]);
export type Forecast = Static<typeof Forecast>;

export const LocationTrend = Type.Object({
  locationId: Id,
  location: Type.String(),
  component: Type.String(),
  assetId: Id,
  assetName: Type.String(),
  assetKind: Type.Enum(['vehicle', 'machine']),
  value: TrendValue,
  /** `ratio`: times the own baseline, over all conditions. */
  basis: Type.Enum(['level', 'ratio']),
  unit: Type.String(),
  /**
   * What the sensor now mounted adds to every level, relative, expanded with k = 2: alike for all runs of its mount, so
   * not in their scatter. Null without a sensor, for values without a unit, and for ratios, in which it cancels.
   */
  sensorUncertainty: NumberOrNull,
  /** The condition whose runs are shown; null: all. */
  bin: OrNull(Type.String()),
  /** Conditions of the newest stretch, most runs first. */
  bins: Type.Array(Type.Object({ bin: Type.String(), runs: Type.Integer(), runsMissing: Type.Integer() })),
  /** Locations like this one on other assets of the same kind. */
  peers: Type.Array(Type.Object({ locationId: Id, assetName: Type.String() })),
  points: Type.Array(
    Type.Object({
      timeMs: Type.Number(),
      runId: OrNull(Id),
      value: Type.Number(),
      /** Twice the standard error of the run's median either way; null over all conditions. */
      low: NumberOrNull,
      high: NumberOrNull,
      bins: Type.Array(Type.String()),
      stretch: Type.Integer(),
    }),
  ),
  /** Runs that do not count, and why. */
  leftOut: Type.Array(
    Type.Object({ timeMs: Type.Number(), runId: OrNull(Id), bin: Type.String(), reason: Type.String() }),
  ),
  /** Number of the stretch that lasts now: baseline, alerts, slope and forecast are of its runs. */
  stretch: Type.Integer(),
  /** Where levels may step although nothing wore: each is trended for itself. */
  stretches: Type.Array(
    Type.Object({ stretch: Type.Integer(), fromMs: Type.Number(), reason: Type.String() }),
  ),
  events: Type.Array(AssetEvent),
  baseline: Baseline,
  alerts: Type.Array(TrendAlert),
  line: OrNull(
    Type.Object({
      fromMs: Type.Number(),
      toMs: Type.Number(),
      perWeek: Type.Number(),
      lowPerWeek: Type.Number(),
      highPerWeek: Type.Number(),
      fromValue: Type.Number(),
      toValue: Type.Number(),
    }),
  ),
  test: OrNull(
    Type.Object({ tau: NumberOrNull, pValue: Type.Number(), lag1: Type.Number(), runs: Type.Integer() }),
  ),
  change: OrNull(Type.Object({ timeMs: Type.Number(), step: Type.Number(), pValue: Type.Number() })),
  limit: NumberOrNull,
  forecast: OrNull(Forecast),
  /** What it comes to, in words. */
  sentences: Type.Array(Type.String()),
});
export type LocationTrend = Static<typeof LocationTrend>;

/** Trends side by side. */
export const Trends = Type.Object({
  trends: Type.Array(LocationTrend),
  /** Which one changed when all of them saw the same road and load; from three with a baseline on. */
  apart: OrNull(
    Type.Object({
      /** Null: none stands apart. */
      locationId: OrNull(Id),
      ranks: Type.Array(
        Type.Object({ locationId: Id, changeDb: Type.Number(), beyondPeersDb: Type.Number() }),
      ),
      sentence: Type.String(),
    }),
  ),
});
export type Trends = Static<typeof Trends>;

/** PUT /api/runs/:id/trend -> { done }: leaves the run out of all trends, with the reason why; null takes it in again. */
export const RunTrendRequest = Type.Object({
  leftOut: OrNull(Type.String({ minLength: 1, maxLength: 200, pattern: '\\S' })),
});
export type RunTrendRequest = Static<typeof RunTrendRequest>;
