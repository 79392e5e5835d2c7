import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { MountRecord } from '../../../dashboard/server/records/mounts.ts';
import { coveredSpan } from '../../../dashboard/server/view.ts';
import { clock, NODE_A, NODE_B, NOON_MS, records } from './support.ts';

function station() {
  const time = clock();
  const store = records(time);
  for (const node of [NODE_A, NODE_B]) store.nodes.add(node, node);
  const asset = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
  const places = ['Hub', 'Axle', 'Gearbox'].map(
    (name) => store.assets.addLocation(asset.id, { name, component: name }).id,
  );
  const history = () => places.flatMap((place) => store.mounts.history(place, 0, Number.MAX_SAFE_INTEGER));
  return { time, store, places, history };
}

const a0 = { nodeId: NODE_A, sensor: 0 };
const b1 = { nodeId: NODE_B, sensor: 1 };

describe('mounts', () => {
  it('move a sensor from place to place and keep where it was', () => {
    const { time, store, places, history } = station();
    store.mounts.put(places[0]!, a0);
    time.advance(5_000);
    store.mounts.put(places[1]!, a0);
    time.advance(5_000);
    store.mounts.put(places[1]!, null);
    expect(history()).toEqual([
      { ...a0, locationId: places[0], fromMs: NOON_MS, toMs: NOON_MS + 5_000, turnedDeg: null },
      { ...a0, locationId: places[1], fromMs: NOON_MS + 5_000, toMs: NOON_MS + 10_000, turnedDeg: null },
    ]);
    expect(store.mounts.ofSensor(a0, NOON_MS)?.locationId).toBe(places[0]);
    expect(store.mounts.ofSensor(a0, NOON_MS + 5_000)?.locationId).toBe(places[1]);
    expect(store.mounts.ofSensor(a0, NOON_MS - 1)).toBeNull();
    expect(store.mounts.ofSensor(a0, NOON_MS + 10_000)).toBeNull();
  });

  it('change nothing when the sensor sits there already', () => {
    const { store, places, history } = station();
    let changes = 0;
    store.onChange(() => changes++);
    store.mounts.put(places[0]!, a0);
    store.mounts.put(places[0]!, a0);
    store.mounts.put(places[1]!, null);
    expect(changes).toBe(1);
    expect(history()).toHaveLength(1);
  });

  it('forget one that was never in force', () => {
    const { store, places, history } = station();
    store.mounts.put(places[0]!, a0);
    store.mounts.put(places[0]!, b1);
    expect(history()).toMatchObject([b1]);
  });

  it('can begin in the past, but not inside the history of another', () => {
    const { time, store, places, history } = station();
    store.mounts.put(places[0]!, a0, NOON_MS - 60_000);
    time.advance(1_000);
    store.mounts.put(places[0]!, null);
    const before = history();
    const overlap = expect.objectContaining({ code: 'MOUNT_OVERLAP' });
    expect(() => store.mounts.put(places[0]!, b1, NOON_MS - 30_000)).toThrow(overlap);
    expect(() => store.mounts.put(places[1]!, a0, NOON_MS - 90_000)).toThrow(overlap);
    expect(history()).toEqual(before);
    store.mounts.put(places[1]!, b1, NOON_MS - 30_000);
    expect(store.mounts.ofSensor(b1, NOON_MS - 30_000)?.locationId).toBe(places[1]);
  });

  it('refuse places and nodes that do not exist, and revoked nodes', () => {
    const { store, places } = station();
    expect(() => store.mounts.put(999, a0)).toThrow(expect.objectContaining({ code: 'LOCATION_NOT_FOUND' }));
    const unknown = { nodeId: 'ffffffffffffffff', sensor: 0 };
    expect(() => store.mounts.put(places[0]!, unknown)).toThrow(
      expect.objectContaining({ code: 'NODE_NOT_FOUND' }),
    );
    store.nodes.revoke(NODE_A);
    expect(() => store.mounts.put(places[0]!, a0)).toThrow(
      expect.objectContaining({ code: 'NODE_NOT_FOUND' }),
    );
  });

  it('go with their asset', () => {
    const { store, places, history } = station();
    store.mounts.put(places[0]!, a0);
    store.assets.remove(store.assets.location(places[0]!).assetId);
    expect(history()).toEqual([]);
    expect(store.mounts.ofSensor(a0, NOON_MS)).toBeNull();
  });

  it('never overlap, for one sensor or for one place, whatever is done and however the clock jumps', () => {
    const step = fc.record({
      place: fc.nat(2),
      sensor: fc.constantFrom(null, a0, b1, { nodeId: NODE_A, sensor: 1 }),
      waitMs: fc.integer({ min: -3_000, max: 10_000 }),
      fromMs: fc.option(fc.integer({ min: NOON_MS - 20_000, max: NOON_MS + 40_000 }), { nil: undefined }),
    });
    fc.assert(
      fc.property(fc.array(step, { maxLength: 25 }), (steps) => {
        const { time, store, places, history } = station();
        for (const { place, sensor, waitMs, fromMs } of steps) {
          time.advance(waitMs);
          try {
            store.mounts.put(places[place]!, sensor, fromMs);
          } catch (error) {
            expect(error).toMatchObject({ code: 'MOUNT_OVERLAP' });
            continue;
          }
          const there = store.mounts.currentAt(places[place]!);
          if (sensor === null) expect(there).toBeNull();
          else expect(there).toMatchObject(sensor);
        }
        const all = history();
        for (const one of all)
          for (const other of all) if (one !== other) expect(clash(one, other)).toBe(false);
        store.close();
      }),
      { numRuns: 60 },
    );
  });
});

function clash(one: MountRecord, other: MountRecord): boolean {
  const sameSensor = one.nodeId === other.nodeId && one.sensor === other.sensor;
  if (!sameSensor && one.locationId !== other.locationId) return false;
  const end = (mount: MountRecord) => mount.toMs ?? Number.POSITIVE_INFINITY;
  return one.fromMs < end(other) && other.fromMs < end(one);
}

describe('the blocks a mount covers', () => {
  it('are the whole seconds inside it', () => {
    const mount = { ...a0, locationId: 1, fromMs: 10_200, toMs: 20_900, turnedDeg: null };
    expect(coveredSpan(mount)).toEqual({ fromMs: 11_000, toMs: 20_000 });
    expect(coveredSpan({ ...mount, fromMs: 10_000, toMs: 20_000 })).toEqual({ fromMs: 10_000, toMs: 20_000 });
  });
});
