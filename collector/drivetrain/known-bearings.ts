import type { BearingGeometry } from './bearing.ts';

export interface KnownBearing {
  designation: string;
  geometry: BearingGeometry;
  /** Where the dimensions were published. */
  source: string;
}

/**
 * Bearings by standard designation. A designation fixes the outer dimensions alone: makers differ in number and
 * size of the balls, so the frequencies of another make can lie several per cent off. Where the maker's own
 * numbers are at hand, use those. Only bearings with published inner dimensions are listed.
 */
export const KNOWN_BEARINGS: readonly KnownBearing[] = [
  {
    designation: '6205',
    geometry: { rollingElements: 9, elementDiameterMm: 7.94, pitchDiameterMm: 39.04, contactAngleDeg: 0 },
    source: 'Case Western Reserve University bearing data centre: 9 balls, 0.3126 in on 1.537 in',
  },
  {
    designation: '6203',
    geometry: { rollingElements: 8, elementDiameterMm: 6.746, pitchDiameterMm: 28.5, contactAngleDeg: 0 },
    source: 'Case Western Reserve University bearing data centre: 8 balls, 0.2656 in on 1.122 in',
  },
];

/** The bearing of a designation, suffixes for seals and clearance left aside ("6205-2RS C3" finds 6205). */
export function knownBearing(designation: string): KnownBearing | null {
  const stem = designation
    .trim()
    .toUpperCase()
    .split(/[\s\-/]/)[0];
  return KNOWN_BEARINGS.find((bearing) => bearing.designation === stem) ?? null;
}
