/** What zones say and do not say. */
import type { Zone } from '../model.ts';

/** Meaning of the zones after ISO 10816-1, shortened, from memory. */
export const ZONE_MEANING: Record<Zone, string> = {
  A: 'as on a newly commissioned machine',
  B: 'fit for long running without restriction',
  C: 'not fit for long continuous running: plan a repair',
  D: 'severe enough to cause damage',
};

export const ZONE_LIMITS =
  'Zones were made for stationary machines at steady speed. On a vehicle they only screen: compare a location ' +
  'with its own earlier readings and with the same location on a sister vehicle.';
