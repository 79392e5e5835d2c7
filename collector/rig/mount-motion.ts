/**
 * Whether a mount still sits as it was set, told from the direction of gravity in the sensor's axes.
 *
 * What also turns that direction: the vehicle stands on a slope (a road of 10 % turns it by 5.7 degrees), brakes or
 * corners (3 m/s² for a few seconds: 17 degrees), or shakes. A vehicle is rigid, so a slope, braking and cornering
 * turn it by the same angle for all its sensors, however each is mounted; a slipped clamp turns it for one. So a
 * mount counts as turned when its angle is beyond the limit, differs by more than the limit from what the others
 * on the same asset show, and stays so for most of a minute.
 */
import {
  angleDeg,
  magnitudeOf,
  median,
  medianVector,
  STANDARD_GRAVITY_M_PER_S2,
  type Vector,
} from './vector.ts';

export interface MotionLimits {
  /** Turned by more than this is moved. */
  turnDeg: number;
  /** Added to it while no other sensor shows how the asset itself stands. */
  aloneDeg: number;
}

export const DEFAULT_TURN_DEG = 10;
/** Few public roads are steeper than 30 % (17 degrees) (common practice, no source); a fixed machine stands level. */
export const ALONE_ON_VEHICLE_DEG = 8;

export type MotionEvent =
  /** The direction as set is known now. */
  | { kind: 'learned'; reference: Vector }
  /** It has turned by so much since it was set; `sinceMs`: the first second that showed it. */
  | { kind: 'turned'; turnedDeg: number; sinceMs: number; reachesBack: boolean };

const LEARN_SECONDS = 10;
/** Of these so many must agree within this angle; otherwise the clamp is still being fitted. */
const LEARN_AGREE = 8;
const LEARN_WITHIN_DEG = 4;
/** A scale or offset so wrong, or a signal without its mean, has no direction to watch. */
const LEAST_G = 0.7;
const MOST_G = 1.3;
const WINDOW_SECONDS = 60;
const TURNED_SECONDS = 48;

interface Second {
  startMs: number;
  isTurned: boolean;
  gravity: Vector;
}

export class MountMotion {
  #reference: Vector | null;
  #learning: Vector[] = [];
  #window: Second[] = [];
  #angleDeg: number | null = null;

  /** `reference`: the direction as set, if it was learned before. */
  constructor(reference: Vector | null = null) {
    this.#reference = reference;
  }

  /** Angle of the newest second to the direction as set; null while that is not known. */
  get angleDeg(): number | null {
    return this.#angleDeg;
  }

  /** `othersDeg`: newest angles of the other mounts on the same asset. Seconds must come in order. */
  take(
    startMs: number,
    gravity: Vector,
    othersDeg: readonly number[],
    limits: MotionLimits,
  ): MotionEvent | null {
    return this.#reference === null
      ? this.#learn(gravity)
      : this.#watch(this.#reference, { startMs, gravity }, othersDeg, limits);
  }

  #learn(gravity: Vector): MotionEvent | null {
    this.#learning.push(gravity);
    if (this.#learning.length > LEARN_SECONDS) this.#learning.shift();
    if (this.#learning.length < LEARN_SECONDS) return null;
    const middle = medianVector(this.#learning);
    const g = magnitudeOf(middle) / STANDARD_GRAVITY_M_PER_S2;
    const agree = this.#learning.filter((one) => angleDeg(one, middle) <= LEARN_WITHIN_DEG).length;
    if (g < LEAST_G || g > MOST_G || agree < LEARN_AGREE) return null;
    this.#learning = [];
    this.#reference = middle;
    this.#angleDeg = 0;
    return { kind: 'learned', reference: middle };
  }

  #watch(
    reference: Vector,
    { startMs, gravity }: Omit<Second, 'isTurned'>,
    othersDeg: readonly number[],
    { turnDeg, aloneDeg }: MotionLimits,
  ): MotionEvent | null {
    const angle = angleDeg(reference, gravity);
    this.#angleDeg = angle;
    const isTurned =
      othersDeg.length === 0
        ? angle > turnDeg + aloneDeg
        : angle > turnDeg && Math.abs(angle - median(othersDeg)) > turnDeg;
    this.#window.push({ startMs, isTurned, gravity });
    if (this.#window.length > WINDOW_SECONDS) this.#window.shift();
    const turned = this.#window.filter((second) => second.isTurned);
    if (!isTurned || turned.length < TURNED_SECONDS) return null;
    const first = turned[0]!;
    const reachesBack = first === this.#window[0];
    const now = medianVector(turned.slice(-LEARN_SECONDS).map((second) => second.gravity));
    this.#reference = null;
    this.#window = [];
    this.#angleDeg = null;
    return { kind: 'turned', turnedDeg: angleDeg(reference, now), sinceMs: first.startMs, reachesBack };
  }
}
