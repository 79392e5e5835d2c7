import { describe, expect, it } from 'vitest';
import {
  addExchange,
  type ExchangePoint,
  exchangePoint,
  MAX_EXCHANGES,
  placeClock,
} from '../../../collector/timeline/clock-map.ts';
import { seeded } from '../../support/simulated-node.ts';

const OFFSET_US = 1.76e15;

/** An exchange as both ends would note it: node clock = true time x (1 + ppm) - offset. */
function exchangeAt(atS: number, thereS: number, backS: number, ppm = 0): ExchangePoint {
  const node = (s: number) => BigInt(Math.round(s * 1e6 * (1 + ppm * 1e-6)));
  const station = (s: number) => BigInt(OFFSET_US + Math.round(s * 1e6));
  const answered = atS + thereS + 0.001;
  return exchangePoint({
    t0Us: node(atS),
    t1Us: station(atS + thereS),
    t2Us: station(answered),
    t3Us: node(answered + backS),
  })!;
}

/** Offset that is true at a node clock of `atS`. */
const trueOffsetUs = (atS: number, ppm: number) => OFFSET_US + atS * 1e6 * (1 / (1 + ppm * 1e-6) - 1);

/** Delays of a shared link: 1 ms, and now and then much more. */
function delays(seed: number, meanS: number): () => number {
  const random = seeded(seed);
  return () => 0.001 - meanS * Math.log(1 - random());
}

describe('exchange of time', () => {
  it('gives offset and round trip (worked example of RFC 5905, section 8: symmetric link is exact)', () => {
    const point = exchangeAt(10, 0.004, 0.004);
    expect(point.offsetUs).toBe(OFFSET_US);
    expect(point.roundTripUs).toBe(8000);
  });

  it('errs by at most half the round trip when one way is slower', () => {
    const point = exchangeAt(10, 0.03, 0.002);
    expect(Math.abs(point.offsetUs - OFFSET_US)).toBeLessThanOrEqual(point.roundTripUs / 2);
  });

  it('refuses times that cannot be', () => {
    const good = { t0Us: 0n, t1Us: 1000n, t2Us: 1100n, t3Us: 300n };
    expect(exchangePoint(good)).not.toBeNull();
    expect(exchangePoint({ ...good, t3Us: 50n })).toBeNull();
    expect(exchangePoint({ ...good, t3Us: 20_000_000n })).toBeNull();
  });
});

describe('node clock on the station clock', () => {
  it('lets two nodes agree within 5 ms on a link with 2 ms of jitter each way on average, and bounds its error', () => {
    const errorOf = (seed: number, atS: number, ppm: number) => {
      const delay = delays(seed, 0.002);
      const points: ExchangePoint[] = [];
      for (const at of [0, 1, 2, 3, 4, 30, 60, 90, 120, 150, 180, 210, 240]) {
        addExchange(points, exchangeAt(at, delay(), delay(), ppm));
      }
      const placed = placeClock(points, atS * 1e6);
      const errorUs = placed.offsetUs - trueOffsetUs(atS, ppm);
      expect(Math.abs(errorUs)).toBeLessThanOrEqual(placed.uncertaintyUs!);
      return errorUs;
    };
    for (let seed = 1; seed <= 200; seed++) {
      for (const atS of [30, 100, 200, 250]) {
        expect(Math.abs(errorOf(seed, atS, 20) - errorOf(seed + 1000, atS, -30))).toBeLessThan(5000);
      }
    }
  });

  it('follows drift and says by how much it may be off later', () => {
    const points: ExchangePoint[] = [];
    for (let atS = 0; atS <= 600; atS += 30) addExchange(points, exchangeAt(atS, 0.002, 0.002, -40));
    const now = placeClock(points, 600e6);
    const later = placeClock(points, 4200e6);
    expect(now.skew * 1e6).toBeCloseTo(40, -1);
    expect(Math.abs(later.offsetUs - trueOffsetUs(4200, -40))).toBeLessThan(later.uncertaintyUs!);
    expect(later.uncertaintyUs!).toBeGreaterThan(now.uncertaintyUs!);
  });

  it('places what was recorded hours before the first exchange, with the uncertainty of its crystal', () => {
    const points = [0, 1, 2, 3, 4].map((s) => exchangeAt(7200 + s, 0.002, 0.003, 30));
    const placed = placeClock(points, 0);
    expect(Math.abs(placed.offsetUs - trueOffsetUs(0, 30))).toBeLessThan(placed.uncertaintyUs!);
    expect(placed.uncertaintyUs!).toBeLessThan(1.2e6);
  });

  it('keeps a bounded list, the shortest round trips of it', () => {
    const points: ExchangePoint[] = [];
    const delay = delays(3, 0.02);
    for (let i = 0; i < 500; i++) addExchange(points, exchangeAt(i * 30, delay(), delay()));
    expect(points).toHaveLength(MAX_EXCHANGES);
    expect(Math.max(...points.map((p) => p.roundTripUs))).toBeLessThan(25_000);
    expect(points[0]!.nodeUs).toBeLessThan(3000e6);
    expect(points.at(-1)!.nodeUs).toBeGreaterThan(13_000e6);
  });

  it('counts an exchange reported twice once, and takes exchanges in any order', () => {
    const points: ExchangePoint[] = [];
    const [early, late] = [exchangeAt(1, 0.002, 0.002), exchangeAt(5, 0.002, 0.002)];
    expect(addExchange(points, late)).toBe('taken');
    expect(addExchange(points, early)).toBe('taken');
    expect(addExchange(points, late)).toBe('refused');
    expect(points).toEqual([early, late]);
  });

  it('starts anew when one of the clocks was set', () => {
    const points: ExchangePoint[] = [];
    for (let s = 0; s < 5; s++) addExchange(points, exchangeAt(s, 0.002, 0.002));
    const set = { ...exchangeAt(30, 0.002, 0.002), offsetUs: OFFSET_US + 2e6 };
    expect(addExchange(points, set)).toBe('stepped');
    expect(placeClock(points, 30e6).offsetUs).toBe(OFFSET_US + 2e6);
  });
});
