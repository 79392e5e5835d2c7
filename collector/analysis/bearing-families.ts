import type { BearingMultipliers } from '../drivetrain/bearing.ts';

export type BearingPart = 'outer' | 'inner' | 'ball' | 'cage';

/** What a defect of one part looks like in the envelope spectrum. */
export interface BearingFamily {
  part: BearingPart;
  /** Where its first line is expected. */
  expectedHz: number;
  /** Spacing of its sidebands: how often the defect passes through the loaded zone. Null where it stays in it. */
  sidebandHz: number | null;
}

/**
 * Families of one bearing at one relative speed. A race that turns carries its defect through the loaded zone once
 * a turn; one that stands keeps it there. A ball is carried by the cage and strikes twice per spin, once on each
 * race; where only one race is struck, or heard, once per spin: two families of one part.
 * Source: Randall and Antoni 2011, section 2 and table 1.
 */
export function bearingFamilies(multipliers: BearingMultipliers, shaftHz: number): BearingFamily[] {
  const outerTurns = multipliers.outerRing === 'turning';
  const cageHz = multipliers.cage * shaftHz;
  return [
    { part: 'outer', expectedHz: multipliers.outer * shaftHz, sidebandHz: outerTurns ? shaftHz : null },
    { part: 'inner', expectedHz: multipliers.inner * shaftHz, sidebandHz: outerTurns ? null : shaftHz },
    { part: 'ball', expectedHz: multipliers.ballSpin * shaftHz, sidebandHz: cageHz },
    { part: 'ball', expectedHz: 2 * multipliers.ballSpin * shaftHz, sidebandHz: cageHz },
    { part: 'cage', expectedHz: cageHz, sidebandHz: null },
  ];
}
