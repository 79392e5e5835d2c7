/** Repair now, later or differently: the people's own figures, what they come to, and what was decided. */
import { type Static, Type } from 'typebox';
import { Id, IdOrNull, Millis, NumberOrNull, SomeText, Text, TextOrNull } from './scalars.ts';

const closed = { additionalProperties: false };

/** What somebody believes of a figure: `low` and `high` are how far it may be off. */
const Believed = Type.Object(
  {
    low: Type.Number({ minimum: 0, maximum: 1e12 }),
    middle: Type.Number({ minimum: 0, maximum: 1e12 }),
    high: Type.Number({ minimum: 0, maximum: 1e12 }),
  },
  closed,
);
export type Believed = Static<typeof Believed>;

/** Kind of part, as people say it; those that control of a vehicle hangs on are never weighed in money. */
export const PartKind = Type.Enum([
  'wheel-bearing',
  'steering',
  'brake',
  'structural',
  'drive-train',
  'engine',
  'machine',
  'other',
]);
export type PartKind = Static<typeof PartKind>;

export const DecisionOption = Type.Object(
  {
    name: SomeText(80),
    /** `watch` waits; the others act. */
    kind: Type.Enum(['repair-now', 'used-part', 'watch', 'other']),
    parts: Believed,
    labourHours: Believed,
    besides: Believed,
    /** Chance, 0 to 1, of a breakdown on the road within the kept period. */
    breakdownChance: Believed,
    warranty: Type.Union([
      Type.Object(
        {
          months: Type.Number({ minimum: 0, maximum: 600 }),
          distanceKm: Type.Union([Type.Number({ minimum: 0, maximum: 1e7 }), Type.Null()]),
        },
        closed,
      ),
      Type.Null(),
    ]),
    /** Chance, 0 to 1, that the repair becomes due later within the kept period, without a breakdown. */
    laterRepairChance: Believed,
  },
  closed,
);
export type DecisionOption = Static<typeof DecisionOption>;

/** No figure is built in. Money is in one currency, named in free text. */
export const DecisionFigures = Type.Object(
  {
    locationId: Id,
    part: PartKind,
    currency: SomeText(20),
    labourPerHour: Believed,
    keptMonths: Type.Number({ exclusiveMinimum: 0, maximum: 600 }),
    usePerYearKm: Type.Number({ minimum: 0, maximum: 1e7 }),
    /** A breakdown on the road beyond the repair itself. */
    breakdownBesides: Believed,
    repairAfterBreakdown: Believed,
    laterRepair: Believed,
    options: Type.Array(DecisionOption, { minItems: 1, maxItems: 8 }),
  },
  closed,
);
export type DecisionFigures = Static<typeof DecisionFigures>;

/** POST /api/assets/:id/decision-costs (DecisionFigures) -> DecisionAnswer. Keeps nothing. */
export const DecisionAnswer = Type.Object({
  /** Comes before any number. Null: waiting may be weighed. */
  caution: TextOrNull,
  options: Type.Array(
    Type.Object({
      name: Type.String(),
      atOnce: Believed,
      /** Over the kept period: all figures at their low, middle and high end. */
      expected: Believed,
      withoutBreakdown: Type.Number(),
      withBreakdown: Type.Number(),
      /** Part of the kept period under guarantee, 0 to 1. */
      coveredShare: Type.Number(),
    }),
  ),
  breakEvens: Type.Array(
    Type.Object({
      waiting: Type.String(),
      acting: Type.String(),
      /** Chance of a breakdown at which both cost the same; null: `always` costs less at every chance. */
      chance: NumberOrNull,
      always: TextOrNull,
      sentence: Type.String(),
    }),
  ),
  sentences: Type.Array(Type.String()),
});
export type DecisionAnswer = Static<typeof DecisionAnswer>;

/** GET /api/locations/:id/decision-support?keptMonths -> DecisionSupport: what was measured, and what that cannot tell. */
export const DecisionSupportQuery = Type.Object({
  keptMonths: Type.Optional(Type.Number({ exclusiveMinimum: 0, maximum: 600 })),
  part: Type.Optional(PartKind),
});
export const DecisionSupport = Type.Object({
  caution: TextOrNull,
  /** As the location's name and the drive train tell. */
  part: PartKind,
  supports: Type.Array(Type.String()),
  cannotSay: Type.Array(Type.String()),
});
export type DecisionSupport = Static<typeof DecisionSupport>;

/** POST /api/assets/:id/decisions -> Decision. GET -> Decision[], newest first. A decision is never changed. */
export const DecisionRequest = Type.Object({
  figures: DecisionFigures,
  /** Name of one of the options. */
  chosen: SomeText(80),
  decidedBy: SomeText(120),
  /** Left out: now. */
  decidedMs: Type.Optional(Millis),
  note: Text(1000),
  /** Needed to wait against the safety advice: who refuses it, and the text as it was shown. */
  refusal: Type.Union([Type.Object({ name: SomeText(120), textShown: SomeText(1000) }, closed), Type.Null()]),
});
export type DecisionRequest = Static<typeof DecisionRequest>;

export const Decision = Type.Object({
  id: Id,
  assetId: Id,
  /** Null once the location was deleted. */
  locationId: IdOrNull,
  location: Type.String(),
  chosen: Type.String(),
  decidedBy: Type.String(),
  decidedMs: Millis,
  enteredBy: Type.String(),
  enteredMs: Millis,
  note: Type.String(),
  figures: DecisionFigures,
  /** As they were at the time. */
  answer: DecisionAnswer,
  support: DecisionSupport,
  refusal: Type.Union([
    Type.Object({ name: Type.String(), textShown: Type.String(), atMs: Millis }),
    Type.Null(),
  ]),
});
export type Decision = Static<typeof Decision>;
