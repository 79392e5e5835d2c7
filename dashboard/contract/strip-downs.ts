/** What was found when a part was opened, and whether the findings before had said so. */
import { type Static, Type } from 'typebox';
import { Id, IdOrNull, Millis, OrNull, SomeText } from './scalars.ts';

/** What was damaged: elements of a bearing, or something else at this location. */
export const Damage = Type.Enum(['outer', 'inner', 'ball', 'cage', 'gear', 'shaft-or-joint', 'other']);
export type Damage = Static<typeof Damage>;

/** POST /api/assets/:id/strip-downs -> StripDown. GET /api/strip-downs?assetId -> StripDowns. DELETE /api/strip-downs/:id. */
export const StripDownRequest = Type.Object({
  locationId: Id,
  /** Left out: now. The look at the samples that stood at this moment is the one that is scored. */
  openedMs: Type.Optional(Millis),
  /** Which part was opened. */
  part: SomeText(120),
  /** Empty: everything was in order. */
  damage: Type.Array(Damage, { maxItems: 7 }),
  /** In words: how large, how old, what else. */
  condition: SomeText(1000),
  openedBy: SomeText(120),
});
export type StripDownRequest = Static<typeof StripDownRequest>;

/** `right` and `wrong` are claims; the others say that none was made. */
export const Score = Type.Enum(['right', 'wrong', 'not-clear', 'not-covered', 'nothing-said']);
export type Score = Static<typeof Score>;

export const StripDown = Type.Object({
  id: Id,
  assetId: Id,
  assetName: Type.String(),
  /** Null once the location was deleted. */
  locationId: IdOrNull,
  location: Type.String(),
  openedMs: Millis,
  part: Type.String(),
  damage: Type.Array(Damage),
  condition: Type.String(),
  openedBy: Type.String(),
  enteredBy: Type.String(),
  enteredMs: Millis,
  /** The newest look before it was opened, as it was entered. */
  said: OrNull(Type.Object({ verdict: Type.String(), bearing: OrNull(Type.String()), atMs: Millis })),
  score: Score,
  sentence: Type.String(),
});
export type StripDown = Static<typeof StripDown>;

const Tally = Type.Object({
  right: Type.Integer(),
  wrong: Type.Integer(),
  notClear: Type.Integer(),
  notCovered: Type.Integer(),
  nothingSaid: Type.Integer(),
  /** Share right of the claims made, with its 95 % interval; null without any. */
  rightShare: OrNull(Type.Object({ share: Type.Number(), low: Type.Number(), high: Type.Number() })),
  sentence: Type.String(),
});
export type Tally = Static<typeof Tally>;

export const StripDowns = Type.Object({
  /** Newest first. */
  entries: Type.Array(StripDown),
  /** Over all of the entries. */
  tally: Tally,
});
export type StripDowns = Static<typeof StripDowns>;

export const StripDownsQuery = Type.Object({ assetId: Type.Optional(Id) });
