import type { NodeEvent } from '../../../firmware-protocol/index.ts';
import type { VehicleSample } from '../../contract/runs.ts';
import type { RecordStore } from '../records/record-store.ts';
import { valuesOf } from './vehicle-sample.ts';

/** What arrives over MQTT for the runs under way. */
export interface RunFeed {
  /** A press of a node's own button marks the noise in the run of the asset it sits on. */
  takeEvent(event: NodeEvent): void;
  /** Values go into the asset's run; how many were kept (0 without a run). Throws `ASSET_NOT_FOUND`. */
  takeVehicle(assetId: number, samples: readonly VehicleSample[]): number;
}

/** Pages show speeds to people: twice a second is enough. */
const TELL_EVERY_MS = 500;

export function createRunFeed(
  records: RecordStore,
  now: () => number,
  tell: (assetId: number, atMs: number, values: Record<string, number>) => void,
): RunFeed {
  const told = new Map<number, { atMs: number; values: Record<string, number> }>();

  function assetsOf(nodeId: string): Set<number> {
    const places = records.mounts.current().filter((mount) => mount.nodeId === nodeId);
    return new Set(places.map(({ locationId }) => records.assets.location(locationId).assetId));
  }

  return {
    takeEvent({ event, nodeId, bootId, eventCount }) {
      if (event !== 'noise-mark') return;
      const label = records.nodes.find(nodeId)?.label ?? nodeId;
      for (const assetId of assetsOf(nodeId)) {
        const run = records.runs.underWay(assetId);
        if (run === null) continue;
        // By its arrival: a node that was out of reach marks too late, and the mark can be removed on the page.
        const mark = { atMs: now(), endMs: null, source: 'node' as const, note: '', by: label.slice(0, 80) };
        records.runEvents.addMark(run.id, {
          ...mark,
          messageKey: `${nodeId}/${bootId}/${eventCount}/${run.id}`,
        });
      }
    },
    takeVehicle(assetId, samples) {
      records.assets.asset(assetId);
      const values = samples.flatMap((sample) => valuesOf(sample, now()));
      const last = told.get(assetId) ?? { atMs: Number.NEGATIVE_INFINITY, values: {} };
      for (const { quantity, value } of values) last.values[quantity] = value;
      if (now() - last.atMs >= TELL_EVERY_MS || now() < last.atMs) {
        last.atMs = now();
        tell(assetId, last.atMs, { ...last.values });
        // What the vehicle no longer says must not be told as news the next time.
        last.values = {};
      }
      told.set(assetId, last);
      const run = records.runs.underWay(assetId);
      if (run === null) return 0;
      records.vehicleValues.add(run.id, values);
      return values.length;
    },
  };
}
