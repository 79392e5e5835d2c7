import type { Boot } from '../timeline/boot.ts';
import { placeBoot } from '../timeline/boot-clock.ts';
import type { Anchor } from './pieces.ts';

/** Event time of the sample counters of one boot, and back. */
export interface TrackClock {
  /** Unix ms. */
  timeMs(counter: number): number;
  /** First counter at or after a time. */
  counterAt(timeMs: number): number;
  uncertaintyMs(counter: number): number | null;
}

/**
 * Straight lines between the moments at which the fit was looked at, with every exchange of time of the boot that is
 * known by now: later ones make earlier samples surer. Beyond the first and the last the line goes on at its rate.
 * Anchors from before the fit had settled are used only where there are no others.
 */
export function trackClock(boot: Boot, all: Iterable<Anchor>): TrackClock | null {
  const anchors = [...all].sort((a, b) => a.counter - b.counter);
  const settled = anchors.filter(({ known }) => known);
  const used = settled.length > 0 ? settled : anchors;
  if (used.length === 0) return null;
  const points = used.map(({ counter, nodeUs, rateHz }) => {
    const place = placeBoot(boot, nodeUs);
    return {
      counter,
      ms: (nodeUs + place.offsetUs) / 1000,
      perMs: rateHz / 1000,
      uncertaintyMs: place.uncertaintyUs === null ? null : place.uncertaintyUs / 1000,
    };
  });

  /** Index of the last point at or before the counter, at least 0. */
  function before(counter: number): number {
    let low = 0;
    let high = points.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (points[middle]!.counter <= counter) low = middle + 1;
      else high = middle;
    }
    return Math.max(0, low - 1);
  }

  function timeMs(counter: number): number {
    const at = before(counter);
    const point = points[at]!;
    const next = points[at + 1];
    if (next === undefined || counter < point.counter)
      return point.ms + (counter - point.counter) / point.perMs;
    return point.ms + ((next.ms - point.ms) * (counter - point.counter)) / (next.counter - point.counter);
  }

  return {
    timeMs,
    uncertaintyMs: (counter) => points[before(counter)]!.uncertaintyMs,
    counterAt(wantedMs) {
      const first = points[0]!;
      const last = points.at(-1)!;
      const reach = (point: typeof first) => Math.ceil(Math.abs(wantedMs - point.ms) * point.perMs) + 2;
      let low = wantedMs < first.ms ? first.counter - reach(first) : first.counter;
      let high = wantedMs > last.ms ? last.counter + reach(last) : last.counter;
      while (low < high) {
        const middle = Math.floor((low + high) / 2);
        // A thousandth of a millisecond: times are whole microseconds, a sample on the edge belongs to it.
        if (timeMs(middle) >= wantedMs - 1e-3) high = middle;
        else low = middle + 1;
      }
      return low;
    },
  };
}
