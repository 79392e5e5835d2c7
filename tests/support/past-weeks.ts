import type { Reading } from '../../collector/model.ts';
import { readingOf, type WebFixture } from './web-fixture.ts';

const DAY_MS = 86_400_000;
const RUN_SECONDS = 16;

/** A small known scatter, other for each number: about 4 %. */
const scatter = (k: number): number => 1 + 0.06 * (((k * 0.618034) % 1) - 0.5);

/** Since when the fixture's sensors must be mounted. */
export const mountedForWeeks = (nowMs = Date.now()): number => nowMs - 142 * DAY_MS;

/** Twenty weeks of runs at two speeds for each bus of the fixture, wear growing on Bus 2; and days of the fan. */
export async function addPastWeeks(station: WebFixture, nowMs = Date.now()): Promise<{ runIds: number[] }> {
  const { records } = station;
  const fromMs = nowMs - 140 * DAY_MS;
  const readings: Reading[] = [];
  const runIds: number[] = [];
  const wear = (day: number) => (day < 60 ? 1 : 1 + ((day - 60) / 70) ** 2);
  const assets = records.assets.list();
  for (let k = 0; k < 56; k++) {
    const day = 2.5 * k;
    for (const { id, name, kind } of assets) {
      const startMs = Math.floor((fromMs + day * DAY_MS + id * 3_600_000) / 1000) * 1000;
      const isFast = (k * 3 + id) % 5 < 2;
      const bus = (isFast ? 1.6 : 1) * (name === 'Bus 2' ? wear(day) : 1);
      const level = (kind === 'machine' ? 1.2 + 0.006 * Math.max(0, day - 70) : bus) * scatter(k * 7 + id);
      for (const [place, key] of Object.entries(station.sensors)) {
        if (!place.startsWith(name)) continue;
        const own = place.includes('Output') || kind === 'machine' ? level : 0.6 * scatter(k + id);
        for (let second = 0; second < RUN_SECONDS; second++)
          readings.push(readingOf(key, startMs + 1000 * second, own * (1 + 0.01 * (second % 3))));
      }
      if (kind === 'machine') continue;
      const run = records.runs.addPast({ assetId: id, kind: 'road' }, 'Ines', startMs, startMs + 16_000);
      runIds.push(run.id);
      records.vehicleValues.add(
        run.id,
        Array.from({ length: RUN_SECONDS + 1 }, (_, second) => ({
          quantity: 'roadSpeedKmH' as const,
          atMs: startMs + 1000 * second,
          value: isFast ? 74 : 54,
        })),
      );
    }
  }
  await station.store(readings);
  await station.workOut();
  return { runIds };
}
