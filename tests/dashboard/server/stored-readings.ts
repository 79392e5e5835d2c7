import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import type { BlockSpectrum, Reading } from '../../../collector/model.ts';
import { openReadingReader } from '../../../collector/store/sqlite-reader.ts';
import { openSqliteStore } from '../../../collector/store/sqlite-store.ts';
import { tempDir } from './temp-dir.ts';

/** A real file of readings: what a collector writes with `add` is what the dashboard's reader sees. */
export async function storedReadings() {
  const file = join(tempDir(), 'readings.sqlite');
  const store = await openSqliteStore(file);
  const reader = openReadingReader(file);
  let position = 0;
  onTestFinished(async () => {
    await reader.close();
    await store.close();
  });
  return {
    reader,
    add: (...readings: Reading[]) => store.commit(readings, ++position),
    addWithSpectra: (...seconds: { reading: Reading; spectrum: BlockSpectrum }[]) =>
      store.commit(
        seconds.map(({ reading }) => reading),
        ++position,
        undefined,
        seconds.map(({ spectrum }) => spectrum),
      ),
  };
}

/** A file of readings that a failing disk has turned into something else. */
export function damagedReadings() {
  const file = join(tempDir(), 'readings.sqlite');
  writeFileSync(file, 'no longer a database '.repeat(500));
  const reader = openReadingReader(file);
  onTestFinished(() => reader.close());
  return reader;
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
