import { VALUES } from './reading-row.ts';
import type { Series, SeriesQuery } from './reading-store.ts';
import { Gather } from './rollup-row.ts';

/** The equal slots of a series, filled in any order. */
export interface Slots {
  widthMs: number;
  /** `count` readings around `atMs`, `flagged` of them left out; the values are of the rest. */
  add(atMs: number, count: number, flagged: number, value: number, minimum: number, maximum: number): void;
  series(): Series;
}

interface Slot {
  gather: Gather;
  count: number;
  flagged: number;
}

export function createSlots(query: SeriesQuery): Slots {
  const { fromMs, toMs, maxPoints } = query;
  if (!(toMs > fromMs)) throw new RangeError(`a series ends after it begins, not at ${toMs} from ${fromMs}`);
  if (!(maxPoints >= 1)) throw new RangeError(`a series has 1 or more points, not ${maxPoints}`);
  const valueIndex = VALUES.indexOf(query.value);
  if (valueIndex < 0) throw new RangeError(`unknown value ${query.value}`);
  const points = Math.floor(maxPoints);
  const widthMs = (toMs - fromMs) / points;
  const slots: (Slot | undefined)[] = new Array(points);

  return {
    widthMs,
    add(atMs, count, flagged, value, minimum, maximum) {
      const index = Math.min(points - 1, Math.floor((atMs - fromMs) / widthMs));
      let slot = slots[index];
      if (slot === undefined) {
        slot = { gather: new Gather(valueIndex), count: 0, flagged: 0 };
        slots[index] = slot;
      }
      slot.count += count;
      slot.flagged += flagged;
      slot.gather.add(value, minimum, maximum, count - flagged);
    },
    series() {
      const series: Series = { timeMs: [], value: [], minimum: [], maximum: [], count: [], flagged: [] };
      for (const [index, slot] of slots.entries()) {
        if (slot === undefined) continue;
        const { value, minimum, maximum } = slot.gather.result();
        series.timeMs.push(fromMs + (index + 0.5) * widthMs);
        series.value.push(orNull(value));
        series.minimum.push(orNull(minimum));
        series.maximum.push(orNull(maximum));
        series.count.push(slot.count);
        series.flagged.push(slot.flagged);
      }
      return series;
    },
  };
}

function orNull(value: number): number | null {
  return Number.isNaN(value) ? null : value;
}
