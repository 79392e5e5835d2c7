import type { Series } from '../reading-store.ts';

export type Combine = 'energy' | 'largest' | 'median';

interface Slot {
  count: number;
  flagged: number;
  squares: number;
  used: number;
  values: number[];
  minimum: number;
  maximum: number;
}

/** What a window adds to the slot of a series it lies in; each part may come by itself. */
export type Part =
  | { kind: 'count' | 'flagged' | 'squares' | 'used' | 'minimum' | 'maximum'; value: number }
  | { kind: 'value'; value: number };

/**
 * Slots of a series filled with sums that the database made, instead of with single readings. Sums of squares and
 * counts add up exactly, smallest and largest too; for the median every value is kept.
 */
export class SeriesSlots {
  readonly #slots = new Map<number, Slot>();
  readonly #combine: Combine;
  readonly #fromMs: number;
  readonly #widthMs: number;
  readonly #last: number;

  constructor(combine: Combine, fromMs: number, widthMs: number, points: number) {
    this.#combine = combine;
    this.#fromMs = fromMs;
    this.#widthMs = widthMs;
    this.#last = points - 1;
  }

  add(atMs: number, { kind, value }: Part): void {
    // Windows begin a few nanoseconds before the slot they stand for, since their width is whole nanoseconds.
    const index = Math.floor((atMs - this.#fromMs) / this.#widthMs + 1e-6);
    const slot = this.#slot(Math.min(this.#last, Math.max(0, index)));
    if (kind === 'value') slot.values.push(value);
    else if (kind === 'minimum') slot.minimum = Math.min(slot.minimum, value);
    else if (kind === 'maximum') slot.maximum = Math.max(slot.maximum, value);
    else slot[kind] += value;
  }

  /** One reading, or one stretch of `count` of them. */
  addStretch(
    atMs: number,
    stretch: { count: number; flagged: number; value: number; minimum: number; maximum: number },
  ): void {
    const { count, flagged, value, minimum, maximum } = stretch;
    const used = count - flagged;
    this.add(atMs, { kind: 'count', value: count });
    this.add(atMs, { kind: 'flagged', value: flagged });
    if (Number.isNaN(value) || used === 0) return;
    this.add(atMs, { kind: 'squares', value: used * value * value });
    this.add(atMs, { kind: 'used', value: used });
    this.add(atMs, { kind: 'value', value });
    this.add(atMs, { kind: 'minimum', value: minimum });
    this.add(atMs, { kind: 'maximum', value: maximum });
  }

  series(): Series {
    const series: Series = { timeMs: [], value: [], minimum: [], maximum: [], count: [], flagged: [] };
    for (const [index, slot] of [...this.#slots].sort(([a], [b]) => a - b)) {
      if (slot.count === 0) continue;
      const value = this.#valueOf(slot);
      series.timeMs.push(this.#fromMs + (index + 0.5) * this.#widthMs);
      series.value.push(value);
      series.minimum.push(value === null ? null : slot.minimum);
      series.maximum.push(value === null ? null : slot.maximum);
      series.count.push(slot.count);
      series.flagged.push(slot.flagged);
    }
    return series;
  }

  #slot(index: number): Slot {
    let slot = this.#slots.get(index);
    if (slot === undefined) {
      slot = {
        count: 0,
        flagged: 0,
        squares: 0,
        used: 0,
        values: [],
        minimum: Number.POSITIVE_INFINITY,
        maximum: Number.NEGATIVE_INFINITY,
      };
      this.#slots.set(index, slot);
    }
    return slot;
  }

  #valueOf(slot: Slot): number | null {
    if (this.#combine === 'energy') return slot.used > 0 ? Math.sqrt(slot.squares / slot.used) : null;
    if (this.#combine === 'largest') return Number.isFinite(slot.maximum) ? slot.maximum : null;
    return slot.values.length > 0 ? median(slot.values) : null;
  }
}

function median(values: number[]): number {
  const sorted = values.sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
