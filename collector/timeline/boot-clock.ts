import type { Boot } from './boot.ts';
import { type ClockPlacement, placeClock } from './clock-map.ts';

/**
 * Where a boot's clock stands on the station's. A recording carries its own time. A boot that has exchanged time is
 * placed by that. Until then it is placed by the quickest arrival seen, and its readings say `time-unknown`; when the
 * first exchange comes, time steps to the right place: readings already made stay where they are, and give way to
 * those of the right place where both fall on one second.
 */
export function placeBoot(boot: Boot, atUs: number): ClockPlacement {
  if (boot.replay) return { atUs, offsetUs: 0, skew: 0, uncertaintyUs: 0 };
  if (boot.exchanges.length > 0) return placeClock(boot.exchanges, atUs);
  return { atUs, offsetUs: offsetByArrival(boot), skew: 0, uncertaintyUs: null };
}

const SMALL_LATENESS_US = 50_000;
const LARGE_LATENESS_US = 2e6;

/**
 * A quicker packet shows that the boot is to be placed earlier. In a backlog that comes in one burst every packet
 * does; followed at once, no block would ever be whole.
 */
function offsetByArrival(boot: Boot): number {
  const smallest = boot.arrivalOffsetUs ?? 0;
  const lower = (boot.placedOffsetUs ?? Number.POSITIVE_INFINITY) - smallest;
  if (lower < SMALL_LATENESS_US || lower > LARGE_LATENESS_US) boot.placedOffsetUs = smallest;
  return boot.placedOffsetUs!;
}
