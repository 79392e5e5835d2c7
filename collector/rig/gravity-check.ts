/**
 * Gravity check of a three-axis accelerometer in six positions: it lies still on each of its six faces, and what it
 * reads must be gravity, whatever its direction. Scale s and offset o of each axis follow from
 * |(m - o) / s| = g over all positions (Gauss and Newton's least squares), so the faces need not be exactly square.
 * Slanted positions beyond the six leave a residual, which shows what scale and offset do not explain: axes that
 * are not square to each other, a bent scale.
 */
import { solveLinear } from '../dsp/linear-solve.ts';
import { angleDeg, magnitudeOf, STANDARD_GRAVITY_M_PER_S2, type Vector } from './vector.ts';

export const FACES = ['x+', 'x-', 'y+', 'y-', 'z+', 'z-'] as const;
export type Face = (typeof FACES)[number];

/** A position in which the sensor lay still. */
export interface StillPosition {
  /** The axis that pointed up (+) or down (-); null: slanted. */
  face: Face | null;
  meanMPerS2: Vector;
  seconds: number;
}

export interface GravityCheckResult {
  /** What the sensor reads for 1 m/s², along x, y, z. */
  scale: Vector;
  /** What it reads without any acceleration, m/s². */
  offsetMPerS2: Vector;
  /** RMS of what scale and offset leave, m/s²; null with the six faces alone, which the fit meets exactly. */
  residualMPerS2: number | null;
  positions: number;
  /** Largest error of an uncorrected level that this leaves possible, percent: see `toleranceOf`. */
  tolerancePct: number;
}

const AXES = 3;
const ROUNDS = 20;
/** Local gravity differs from the standard by so much at most, percent. */
const LOCAL_GRAVITY_PCT = 0.3;
/** Taken for what an unchecked axis may be out of square, percent (common practice, no source). */
const UNCHECKED_PCT = 1;

/** Null until each face was held. @throws RangeError when the positions do not determine scale and offset */
export function solveGravityCheck(positions: readonly StillPosition[]): GravityCheckResult | null {
  if (!FACES.every((face) => positions.some((position) => position.face === face))) return null;
  const means = positions.map(({ meanMPerS2 }) => meanMPerS2);
  const g = STANDARD_GRAVITY_M_PER_S2;
  const { scale, offset } = firstGuess(positions);
  for (let round = 0; round < ROUNDS; round++) improve(means, scale, offset, g);
  const squares = means.reduce((sum, m) => sum + (lengthOf(m, scale, offset) - g) ** 2, 0);
  const free = means.length - 2 * AXES;
  const residual = free > 0 ? Math.sqrt(squares / free) : null;
  return {
    scale: vectorOf(scale),
    offsetMPerS2: vectorOf(offset),
    residualMPerS2: residual,
    positions: positions.length,
    tolerancePct: toleranceOf(scale, residual),
  };
}

/**
 * Readings are not corrected by the check, so the scale's own error counts in full; to it come the residual (or an
 * allowance, where none was measured) and the difference of local gravity from the standard. Added, not combined as
 * squares: these errors stay the same from day to day.
 */
function toleranceOf(scale: readonly number[], residual: number | null): number {
  const worst = Math.max(...scale.map((s) => Math.abs(s - 1)));
  const rest = residual === null ? UNCHECKED_PCT : (100 * residual) / STANDARD_GRAVITY_M_PER_S2;
  return 100 * worst + rest + LOCAL_GRAVITY_PCT;
}

function firstGuess(positions: readonly StillPosition[]): { scale: number[]; offset: number[] } {
  const g = STANDARD_GRAVITY_M_PER_S2;
  const of = (face: string, axis: number) => positions.find((p) => p.face === face)!.meanMPerS2[axis]!;
  const ends = ['x', 'y', 'z'].map((name, axis) => [of(`${name}+`, axis), of(`${name}-`, axis)] as const);
  return {
    scale: ends.map(([up, down]) => (up - down) / (2 * g)),
    offset: ends.map(([up, down]) => (up + down) / 2),
  };
}

function lengthOf(m: Vector, scale: readonly number[], offset: readonly number[]): number {
  return Math.hypot(...m.map((value, i) => (value - offset[i]!) / scale[i]!));
}

/** One step of Gauss and Newton: normal equations of the six unknowns. */
function improve(means: readonly Vector[], scale: number[], offset: number[], g: number): void {
  const size = 2 * AXES;
  const normal = Array.from({ length: size }, () => new Array<number>(size).fill(0));
  const right = new Array<number>(size).fill(0);
  for (const m of means) {
    const length = lengthOf(m, scale, offset);
    const row: number[] = [];
    for (let i = 0; i < AXES; i++) row.push(-((m[i]! - offset[i]!) ** 2) / scale[i]! ** 3 / length);
    for (let i = 0; i < AXES; i++) row.push(-(m[i]! - offset[i]!) / scale[i]! ** 2 / length);
    for (let i = 0; i < size; i++) {
      right[i]! -= row[i]! * (length - g);
      for (let j = 0; j < size; j++) normal[i]![j]! += row[i]! * row[j]!;
    }
  }
  const step = solveLinear(normal, right);
  for (let i = 0; i < AXES; i++) {
    scale[i]! += step[i]!;
    offset[i]! += step[AXES + i]!;
  }
}

function vectorOf([x, y, z]: readonly number[]): Vector {
  return [x!, y!, z!];
}

/** A position is a face when the axis is nearer to upright than this, slanted beyond the other; between: neither. */
const FACE_WITHIN_DEG = 20;
const SLANT_BEYOND_DEG = 25;

/** Which face points up; 'slanted', or null for a position that is neither. */
export function faceOf(mean: Vector): Face | 'slanted' | null {
  const axis = mean.reduce((best, value, i) => (Math.abs(value) > Math.abs(mean[best]!) ? i : best), 0);
  const up: Vector = [0, 1, 2].map((i) => (i === axis ? Math.sign(mean[axis]!) : 0)) as unknown as Vector;
  const tilt = angleDeg(up, mean);
  if (magnitudeOf(mean) === 0) return null;
  if (tilt <= FACE_WITHIN_DEG) return FACES[2 * axis + (mean[axis]! > 0 ? 0 : 1)]!;
  return tilt >= SLANT_BEYOND_DEG ? 'slanted' : null;
}
