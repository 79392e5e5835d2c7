/** Where money does not decide. */

export type LocationKind =
  | 'wheel-bearing'
  | 'steering'
  | 'brake'
  | 'structural'
  | 'drive-train'
  | 'engine'
  | 'machine'
  | 'other';

export interface SafetyQuestion {
  location: LocationKind;
  /** Kinds of location that findings or alternatives point to. */
  findings: LocationKind[];
}

const NEVER_DEFER: readonly LocationKind[] = ['wheel-bearing', 'steering', 'brake', 'structural'];

/** May waiting be weighed in money at all? Not where a failure takes control of the vehicle away. */
export function doNotDefer({ location, findings }: SafetyQuestion): boolean {
  return [location, ...findings].some((kind) => NEVER_DEFER.includes(kind));
}

export const DO_NOT_DEFER =
  'Do not put this off. A wheel bearing, steering, brake or structural part can fail without warning and take control ' +
  'of the vehicle away. Do not drive on; have it inspected by a licensed technician.';
