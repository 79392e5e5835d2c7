import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Asset, LocationReading, SessionState } from '../../dashboard/contract/model.ts';
import type { Run, RunSummary } from '../../dashboard/contract/runs.ts';
import { type RunningStation, runStation } from '../support/station.ts';
import { type StationClient, setUp } from '../support/station-client.ts';

const DAY_MS = 86_400_000;

/** Raw samples with past dates go through broker, journal and collector, behind the live ones. */
describe('history of the demo', () => {
  let station: RunningStation;
  let client: StationClient;
  beforeAll(async () => {
    station = await runStation(['--demo']);
    client = await setUp(station);
  });
  afterAll(() => station?.close());

  it('is measured from samples that are months old, while live levels come', async () => {
    let runs: RunSummary[] = [];
    while (runs.length < 3) {
      runs = await client.get<RunSummary[]>('/api/runs');
      await sleep(300);
    }
    const oldest = await client.get<Run>(`/api/runs/${runs.at(-1)!.id}`);
    expect(Date.now() - oldest.startMs).toBeGreaterThan(139 * DAY_MS);
    expect(oldest.kept).toBe(false);
    expect(oldest.vehicle.map(({ quantity }) => quantity)).toContain('roadSpeedKmH');
    const assets = await client.get<Asset[]>('/api/assets');
    const gearbox = assets.find(({ id }) => id === oldest.assetId)!.locations[1]!;
    expect(oldest.locations.map(({ id }) => id)).toContain(gearbox.id);

    const readings = () =>
      client.get<LocationReading[]>(
        `/api/locations/${gearbox.id}/readings?fromMs=${oldest.startMs}&toMs=${oldest.endMs}`,
      );
    let old: LocationReading[] = [];
    // The newest second of a capture is measured when the next packet of the board, or none, comes.
    while (old.length < 17) {
      old = await readings();
      await sleep(300);
    }
    const levels = old.flatMap(({ highest }) => (highest === null ? [] : [highest.velocityRmsMmPerS]));
    expect(levels.length).toBeGreaterThanOrEqual(15);
    for (const level of levels) expect(level).toBeGreaterThan(0.2);

    let live: LocationReading | null = null;
    while (live === null || Date.now() - live.startMs > DAY_MS) {
      const now = await client.get<Asset[]>('/api/assets');
      live = now.find(({ id }) => id === oldest.assetId)!.locations[1]!.newest;
      await sleep(300);
    }
    const session = await client.get<SessionState>('/api/session');
    expect(session.demoHistoryShare).toBeGreaterThan(0);
  });
});
