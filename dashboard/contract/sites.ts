/** Sites: what the stations that share one database have told it. */
import { type Static, Type } from 'typebox';
import { MachineClass, Zone } from './model.ts';
import { NumberOrNull, OrNull } from './scalars.ts';

export const SiteLocation = Type.Object({
  /** Number of the location at its own station. */
  id: Type.String(),
  /** Null: the station has not told its name. */
  name: OrNull(Type.String()),
  component: OrNull(Type.String()),
  /** Newest second of the sensor there; null when none was heard for a month. */
  newest: OrNull(
    Type.Object({
      /** Begin of the newest second; its level may be missing. */
      heardMs: Type.Number(),
      flags: Type.Array(Type.String()),
      /** Velocity RMS of the highest axis in the newest second that has one. */
      level: OrNull(
        Type.Object({
          atMs: Type.Number(),
          velocityRmsMmPerS: Type.Number(),
          velocityUncertaintyMmPerS: NumberOrNull,
          /** Null while the asset's class is not known. */
          zone: OrNull(Zone),
        }),
      ),
    }),
  ),
  /** What the newest look into the samples there said, and since when. */
  finding: OrNull(
    Type.Object({ verdict: Type.String(), bearing: OrNull(Type.String()), sinceMs: Type.Number() }),
  ),
});
export type SiteLocation = Static<typeof SiteLocation>;

export const SiteAsset = Type.Object({
  /** Number of the asset at its own station. */
  id: Type.String(),
  name: OrNull(Type.String()),
  kind: OrNull(Type.Enum(['vehicle', 'machine'])),
  machineClass: OrNull(MachineClass),
  locations: Type.Array(SiteLocation),
});
export type SiteAsset = Static<typeof SiteAsset>;

export const SiteAlert = Type.Object({
  /** Number of the alert at its own station. */
  id: Type.String(),
  /** In words, with the place. */
  title: Type.String(),
  value: NumberOrNull,
  limit: NumberOrNull,
  unit: Type.String(),
  sinceMs: Type.Number(),
  isAcknowledged: Type.Boolean(),
});
export type SiteAlert = Static<typeof SiteAlert>;

export const Site = Type.Object({
  site: Type.String(),
  /** This very station. */
  own: Type.Boolean(),
  /** When its station last told what it has; null when it never did, and names are not known. */
  announcedMs: NumberOrNull,
  assets: Type.Array(SiteAsset),
  /** Open ones, the newest told first. */
  alerts: Type.Array(SiteAlert),
  /** Sensors that measure and are clamped at no known location. */
  unplacedSensors: Type.Integer(),
});
export type Site = Static<typeof Site>;

/**
 * GET /api/sites -> Sites: this one first, then in the order of their names. Refused where the station shares no database
 * or may only write to it.
 */
export const Sites = Type.Object({
  sites: Type.Array(Site),
  /** When the database was asked: an answer is good for some seconds. */
  askedMs: Type.Number(),
});
export type Sites = Static<typeof Sites>;
