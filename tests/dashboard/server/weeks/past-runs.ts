import type { Reading } from '../../../../collector/model.ts';
import { createEvaluationSchedule } from '../../../../dashboard/server/weeks/schedule.ts';
import { reading } from '../stored-readings.ts';
import { NODE_A, NOON_MS, type testApp } from '../support.ts';

export const DAY_MS = 86_400_000;
const RUN_SECONDS = 20;
export const FIRST_RUN_MS = NOON_MS - 140 * DAY_MS;

export interface PastRun {
  day: number;
  velocityRmsMmPerS: number;
  speedKmH: number | null;
}

type Test = Pick<Awaited<ReturnType<typeof testApp>>, 'store' | 'readings' | 'time'>;

/** A bus with a sensor at its gearbox since before the first run. */
export function busWithSensor(test: Test, name = 'Bus 2', nodeId = NODE_A) {
  const { store } = test;
  store.nodes.add(nodeId, name);
  const asset = store.assets.add({ name, kind: 'vehicle', machineClass: 'II' });
  const place = store.assets.addLocation(asset.id, { name: 'Output bearing', component: 'Gearbox' });
  store.mounts.put(place.id, { nodeId, sensor: 0 }, FIRST_RUN_MS - DAY_MS);
  return { asset, place };
}

/** A small known scatter, other for each number: about 4 %. */
export const scatter = (k: number): number => 1 + 0.06 * (((k * 0.618034) % 1) - 0.5);

/** Runs of the past as the station would hold them: readings of each second, what the vehicle said, and the run. */
export async function addPastRuns(
  test: Test,
  assetId: number,
  runs: readonly PastRun[],
  nodeId = NODE_A,
): Promise<number[]> {
  const readings: Reading[] = [];
  const ids = runs.map(({ day, velocityRmsMmPerS, speedKmH }) => {
    const startMs = FIRST_RUN_MS + day * DAY_MS;
    const endMs = startMs + RUN_SECONDS * 1000;
    for (let second = 0; second < RUN_SECONDS; second++) {
      readings.push(
        reading(nodeId, 0, startMs + second * 1000, velocityRmsMmPerS * (1 + 0.01 * (second % 3))),
      );
    }
    const { id } = test.store.runs.addPast({ assetId, kind: 'road' }, 'Kim', startMs, endMs);
    if (speedKmH !== null) {
      const seconds = Array.from({ length: RUN_SECONDS + 1 }, (_, second) => second);
      test.store.vehicleValues.add(
        id,
        seconds.map((second) => ({
          quantity: 'roadSpeedKmH' as const,
          atMs: startMs + 1000 * second,
          value: speedKmH,
        })),
      );
    }
    return id;
  });
  await test.readings.add(...readings);
  return ids;
}

/** Works out everything that is due, as the server's timer would. */
export async function workOut(test: Test): Promise<void> {
  const silent = { info() {}, warn() {}, error: console.error };
  const schedule = createEvaluationSchedule(
    { records: test.store, readings: test.readings.reader },
    silent,
    test.time.now,
  );
  while (test.store.periodLevels.dueRuns(test.time.now(), 1).length > 0) await schedule.tick();
  await schedule.tick();
  await schedule.close();
}
