/** Links for owners: one asset, read only, without a login. */
import { type Static, Type } from 'typebox';
import { Millis, OrNull } from './scalars.ts';

/**
 * GET /api/assets/:id/owner-links -> OwnerLink[], newest first. DELETE .../owner-links/:part revokes it -> OwnerLink[].
 * All of it needs the role shop.
 */
export const OwnerLink = Type.Object({
  id: Type.Integer({ minimum: 1 }),
  madeBy: Type.String(),
  madeMs: Millis,
  expiresMs: Millis,
  revokedMs: OrNull(Millis),
  /** How often, and on which day last; nothing is kept of who opened it. */
  openedCount: Type.Integer({ minimum: 0 }),
  lastOpenedDayMs: OrNull(Millis),
});
export type OwnerLink = Static<typeof OwnerLink>;

/**
 * POST /api/assets/:id/owner-links -> OwnerLinkMade. The link is `<address>/owner#<token>`, told only this once: a fragment
 * never leaves the browser, so no log and no preview of a message holds it.
 */
export const OwnerLinkRequest = Type.Object({ days: Type.Integer({ minimum: 1, maximum: 366 }) });
export type OwnerLinkRequest = Static<typeof OwnerLinkRequest>;
export const OwnerLinkMade = Type.Object({ link: OwnerLink, token: Type.String() });
export type OwnerLinkMade = Static<typeof OwnerLinkMade>;

const Answer = Type.Enum(['worse', 'steady', 'better', 'not-known']);

/** GET /owner/view with `Authorization: Bearer <token>` -> OwnerView. No cookie is read or set. */
export const OwnerView = Type.Object({
  asset: Type.String(),
  /** Comes before everything else. */
  safety: OrNull(Type.String()),
  answer: Answer,
  /** The answer in one sentence. */
  headline: Type.String(),
  /** By how much, with its ± and unit; null where it cannot be said. */
  howMuch: OrNull(Type.String()),
  /** What was found in the samples, if a part was. */
  found: OrNull(Type.String()),
  next: Type.String(),
  /** By when; null where there is no date. */
  byMs: OrNull(Millis),
  overdue: Type.Boolean(),
  /** Do not wait when one of these comes. */
  signs: Type.Array(Type.String()),
  places: Type.Array(Type.Object({ name: Type.String(), answer: Answer, text: Type.String() })),
  /** Newest run or day that counts. */
  measuredMs: OrNull(Millis),
  nowMs: Millis,
  validUntilMs: Millis,
});
export type OwnerView = Static<typeof OwnerView>;
