import { exchangeOffset, type TimeExchange } from '../../firmware-protocol/index.ts';

/**
 * Node clock -> station clock, from exchanges of time.
 *
 * One exchange gives offset = ((t1 - t0) + (t2 - t3)) / 2 with an error of at most half its round trip
 * (t3 - t0) - (t2 - t1) (RFC 5905, section 8). Delay on a shared link comes in bursts, so exchanges with
 * the shortest round trip are trusted most: the offset at any moment is a line fitted to the kept exchanges
 * with weight 1/(half the excess over the shortest round trip, + floor, + age x drift)². The weighting by age
 * lets the line follow drift, and lets a backlog recorded between two exchanges be placed between them.
 */

/** Serialisable. */
export interface ExchangePoint {
  nodeUs: number;
  /** Station minus node, µs. */
  offsetUs: number;
  roundTripUs: number;
}

/** The station's time near one moment of the node's clock: unixUs = nodeUs + offsetUs + skew x (nodeUs - atUs). */
export interface ClockPlacement {
  atUs: number;
  offsetUs: number;
  skew: number;
  /** Largest error expected from the exchange; null while no exchange has happened. */
  uncertaintyUs: number | null;
}

export const MAX_EXCHANGES = 24;
const LONGEST_ROUND_TRIP_US = 10e6;
/** Noise of an exchange even at the shortest round trip. */
const FLOOR_US = 300;
/** Drift not described by a straight line. */
const DRIFT = 2e-6;
/** Clock crystals of cheap boards: within about 50 parts per million (common practice, no source). */
const SKEW_PRIOR_SD = 60e-6;
/** A disagreement beyond the round trips by this much means that one of the clocks was set. */
const STEP_US = 100_000;

export type ExchangeVerdict = 'taken' | 'refused' | 'stepped';

/** Turns the four times into a point; null when they cannot be an exchange. */
export function exchangePoint(exchange: TimeExchange): ExchangePoint | null {
  const { offsetUs, delayUs } = exchangeOffset(exchange);
  if (!(delayUs >= 0 && delayUs <= LONGEST_ROUND_TRIP_US)) return null;
  return { nodeUs: Number(exchange.t0Us + exchange.t3Us) / 2, offsetUs, roundTripUs: delayUs };
}

/**
 * Adds a point to the list (kept in order of node time, at most MAX_EXCHANGES). When one of the clocks was set
 * the old points are forgotten ('stepped'): the new point is the only truth there is.
 */
export function addExchange(points: ExchangePoint[], point: ExchangePoint): ExchangeVerdict {
  let verdict: ExchangeVerdict = 'taken';
  if (points.length > 0) {
    const here = placeClock(points, point.nodeUs);
    const allowed = point.roundTripUs / 2 + here.uncertaintyUs! + STEP_US;
    if (Math.abs(point.offsetUs - here.offsetUs) > allowed) {
      points.length = 0;
      verdict = 'stepped';
    }
  }
  let at = points.length;
  while (at > 0 && points[at - 1]!.nodeUs > point.nodeUs) at--;
  // The same exchange reported twice (a resent message) must not count twice.
  if (points[at - 1]?.nodeUs === point.nodeUs) return 'refused';
  points.splice(at, 0, point);
  if (points.length > MAX_EXCHANGES) thin(points);
  return verdict;
}

/** Of the two neighbours closest in time, the one with the longer round trip goes. */
function thin(points: ExchangePoint[]): void {
  let closest = 1;
  for (let i = 2; i < points.length; i++) {
    if (points[i]!.nodeUs - points[i - 1]!.nodeUs < points[closest]!.nodeUs - points[closest - 1]!.nodeUs) {
      closest = i;
    }
  }
  const goes = points[closest]!.roundTripUs > points[closest - 1]!.roundTripUs ? closest : closest - 1;
  points.splice(goes, 1);
}

/** Weighted line through the points near `atUs`; needs at least one point. */
export function placeClock(points: readonly ExchangePoint[], atUs: number): ClockPlacement {
  let shortest = Number.POSITIVE_INFINITY;
  for (const p of points) shortest = Math.min(shortest, p.roundTripUs);
  const base = points[0]!.offsetUs;
  let w0 = 0;
  let w1 = 0;
  let w2 = 1 / SKEW_PRIOR_SD ** 2;
  let y0 = 0;
  let y1 = 0;
  for (const p of points) {
    const dt = p.nodeUs - atUs;
    const sd = (p.roundTripUs - shortest) / 2 + FLOOR_US;
    const weight = 1 / (sd * sd + (DRIFT * dt) ** 2);
    const y = p.offsetUs - base;
    w0 += weight;
    w1 += weight * dt;
    w2 += weight * dt * dt;
    y0 += weight * y;
    y1 += weight * y * dt;
  }
  const determinant = w0 * w2 - w1 * w1;
  const offset = (y0 * w2 - y1 * w1) / determinant;
  const skew = (w0 * y1 - w1 * y0) / determinant;
  const skewSd = Math.sqrt(w0 / determinant);
  let uncertaintyUs = Number.POSITIVE_INFINITY;
  for (const p of points) {
    const grown = p.roundTripUs / 2 + Math.abs(p.nodeUs - atUs) * Math.max(DRIFT, skewSd);
    uncertaintyUs = Math.min(uncertaintyUs, grown);
  }
  return { atUs, offsetUs: base + offset, skew, uncertaintyUs };
}
