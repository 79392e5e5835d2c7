import type { Reading } from '../../../collector/model.ts';
import type { ReadingReader, Series, SeriesQuery } from '../../../collector/store/reading-store.ts';

/** Readings in memory, with one slot for each reading: enough where the store itself is not the subject. */
export function memoryReadings(): ReadingReader & { all: Reading[]; fail: boolean; queries: SeriesQuery[] } {
  const store = {
    all: [] as Reading[],
    fail: false,
    queries: [] as SeriesQuery[],
    async latest() {
      if (store.fail) throw new Error('disk is gone');
      const newest = new Map<string, Reading>();
      for (const reading of store.all) newest.set(`${reading.nodeId}/${reading.sensor}`, reading);
      return [...newest.values()];
    },
    async readings({ nodeId, sensor }: { nodeId: string; sensor: number }, fromMs: number, toMs: number) {
      if (store.fail) throw new Error('disk is gone');
      return store.all.filter(
        (r) => r.nodeId === nodeId && r.sensor === sensor && r.startMs >= fromMs && r.startMs < toMs,
      );
    },
    async series(query: SeriesQuery): Promise<Series> {
      store.queries.push(query);
      const found = await store.readings(query.sensor, query.fromMs, query.toMs);
      const value = found.map((reading) => reading.axes[0]![query.value]);
      return {
        timeMs: found.map((reading) => reading.startMs + 500),
        value,
        minimum: value,
        maximum: value,
        count: found.map(() => 1),
        flagged: found.map(() => 0),
      };
    },
    async close() {},
  };
  return store;
}

export function reading(nodeId: string, sensor: number, startMs: number, velocityRmsMmPerS = 1): Reading {
  const values = { accelerationRmsMPerS2: 2, accelerationPeakMPerS2: 6, crestFactor: 3, kurtosis: 3 };
  return {
    nodeId,
    sensor,
    startMs,
    durationS: 1,
    sampleRateHz: 3200,
    bandHz: [10, 1000],
    axes: [
      { axis: 'x', velocityRmsMmPerS, ...values },
      { axis: 'y', velocityRmsMmPerS: velocityRmsMmPerS / 2, ...values },
      { axis: 'z', velocityRmsMmPerS: null, ...values },
    ],
    flags: [],
  };
}
