/** Counts by reason since the pipeline began. Reasons are fixed words, so the table stays small. */
export interface Counters {
  add(reason: string, by?: number): void;
  snapshot(): Record<string, number>;
}

export function createCounters(): Counters {
  const table = new Map<string, number>();
  return {
    add: (reason, by = 1) => void table.set(reason, (table.get(reason) ?? 0) + by),
    snapshot: () => Object.fromEntries([...table].sort(([a], [b]) => (a < b ? -1 : 1))),
  };
}
