import { exchangeOffset, type TimeExchange } from '../../firmware-protocol/index.ts';
import { meanLine } from './clock-line.ts';

/**
 * Node clock -> station clock, from exchanges of time.
 *
 * A message is never received before it is sent, so one exchange bounds the offset (station minus node) from both
 * sides: t2 - t3 <= offset <= t1 - t0; its middle is the usual estimate, half its round trip the error (RFC 5905,
 * section 8). Over several exchanges the tightest bound of each side may come from different ones, which on a link
 * with bursts of delay is far better than the shortest round trip (the idea of Moon, Skelly and Towsley, "Estimation
 * and removal of clock skew from network delay measurements", 1999, from memory). Every line (offset now, skew) that passes
 * between all bounds is possible; for delays that are exponentially distributed they are equally likely but for what
 * is known of crystals, so the estimate is their mean (clock-line.ts). Bounds loosen with their distance in time, so
 * the line follows drift, and a backlog recorded between two exchanges is placed between them.
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

/** The station's time around `atUs` of the node's clock; needs at least one point. */
export function placeClock(points: readonly ExchangePoint[], atUs: number): ClockPlacement {
  const { offsetUs, skew, errorUs } = meanLine(points, atUs);
  return { atUs, offsetUs, skew, uncertaintyUs: errorUs };
}
