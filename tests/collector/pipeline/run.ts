import type { Reading } from '../../../collector/model.ts';
import {
  createPipeline,
  type PipelineOptions,
  type PipelineRecord,
} from '../../../collector/pipeline/pipeline.ts';
import type { SavedState } from '../../../collector/pipeline/saved-state.ts';
import type { SentMessage } from '../../support/simulated-node.ts';

/** Messages as a journal holds them: in the order given, never going back in arrival time. */
export function journalOf(messages: readonly SentMessage[]): PipelineRecord[] {
  let arrivedAtUs = 0;
  return messages.map((message, index) => {
    arrivedAtUs = Math.max(arrivedAtUs, message.arrivedAtUs);
    return { ...message, arrivedAtUs, position: 40 + index * 1000 };
  });
}

/** Messages in the order in which they arrive. */
export function byArrival(...messages: SentMessage[][]): SentMessage[] {
  return messages.flat().sort((a, b) => a.arrivedAtUs - b.arrivedAtUs);
}

/** Everything the pipeline says of a journal. */
export function runPipeline(records: readonly PipelineRecord[], options: PipelineOptions = {}) {
  const pipeline = createPipeline(options);
  const readings = records.flatMap((record) => pipeline.accept(record).readings);
  return { readings, counters: pipeline.counters(), pipeline };
}

/** What a store would hold after these readings: see `ReadingStore.commit`. */
export function stored(readings: readonly Reading[]): Map<string, Reading> {
  const provisional = (r: Reading) => r.flags.some((f) => ['gap', 'settling', 'time-unknown'].includes(f));
  const kept = new Map<string, Reading>();
  for (const reading of readings) {
    const key = `${reading.nodeId}/${reading.sensor}/${reading.startMs / 1000}`;
    const before = kept.get(key);
    if (before === undefined || (provisional(before) && !provisional(reading))) kept.set(key, reading);
  }
  return kept;
}

/** Readings that nothing is wrong with, by second. */
export function sound(readings: readonly Reading[]): Map<number, Reading> {
  const found = [...stored(readings).values()].filter((r) => r.flags.length === 0);
  return new Map(found.map((r) => [r.startMs / 1000, r]));
}

/** State as a store would keep it: written rows over earlier ones. */
export function saveInto(rows: Map<string, string>, change: { set: SavedState; remove: string[] }): void {
  for (const [key, json] of change.set) rows.set(key, json);
  for (const key of change.remove) rows.delete(key);
}

/** The largest relative difference between values of two readings of the same second. */
export function largestDifference(a: Reading, b: Reading): number {
  let largest = 0;
  for (const [index, axis] of a.axes.entries()) {
    const other = b.axes[index]!;
    for (const name of [
      'velocityRmsMmPerS',
      'accelerationRmsMPerS2',
      'accelerationPeakMPerS2',
      'kurtosis',
    ] as const) {
      const [x, y] = [axis[name], other[name]];
      if (x === null || y === null) largest = Math.max(largest, x === y ? 0 : 1);
      else largest = Math.max(largest, Math.abs(x - y) / Math.max(Math.abs(x), 1e-9));
    }
  }
  return largest;
}
