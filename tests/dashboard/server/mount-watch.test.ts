import { describe, expect, it } from 'vitest';
import type { Reading, ReadingReader } from '../../../collector/index.ts';
import { createMountWatch } from '../../../dashboard/server/rig/mount-watch.ts';
import { trendOfLocation } from '../../../dashboard/server/trend.ts';
import { feltSecond } from './rig-support.ts';
import { NODE_A, NODE_B, NOON_MS, records } from './support.ts';

const UPRIGHT = [0, 0, 9.81] as const;
/** Turned by 30 degrees about x. */
const TURNED = [0, 4.905, 8.4957] as const;

/** Records with two sensors on one bus, and a watch that is fed second by second. */
function bus() {
  let nowMs = NOON_MS;
  const store = records({ now: () => nowMs });
  const asset = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
  const places = [NODE_A, NODE_B].map((nodeId, index) => {
    store.nodes.add(nodeId, nodeId);
    const { id } = store.assets.addLocation(asset.id, { name: `Place ${index}`, component: 'Rear axle' });
    store.mounts.put(id, { nodeId, sensor: 0 }, NOON_MS);
    return id;
  });
  const stored: Reading[] = [];
  const readings = {
    readings: async ({ nodeId }, fromMs, toMs) =>
      stored.filter((r) => r.nodeId === nodeId && r.startMs >= fromMs && r.startMs < toMs),
    series: async () => ({ timeMs: [], value: [], minimum: [], maximum: [], count: [], flagged: [] }),
  } as Pick<ReadingReader, 'readings' | 'series'> as ReadingReader;
  const logged: string[] = [];
  const log = {
    info() {},
    warn: (text: string) => void logged.push(text),
    error: (text: string) => void logged.push(text),
  };
  const newWatch = () => {
    const watch = createMountWatch({ records: store, readings, log });
    store.onChange(({ kind }) => void (kind === 'assets' && watch.forget()));
    return watch;
  };
  let watch = newWatch();
  return {
    store,
    places,
    logged,
    readings,
    restart: () => {
      watch = newWatch();
    },
    /** So many seconds in which the two sensors feel this; unseen ones only reach the store. */
    async feel(seconds: number, a: typeof UPRIGHT | typeof TURNED, b = UPRIGHT as typeof a, isSeen = true) {
      for (let s = 0; s < seconds; s++) {
        for (const [nodeId, gravity] of [
          [NODE_A, a],
          [NODE_B, b],
        ] as const) {
          const reading = feltSecond(nodeId, 0, nowMs, gravity);
          stored.push(reading);
          if (isSeen) watch.take(reading);
        }
        nowMs += 1000;
      }
      await watch.idle();
      return nowMs;
    },
    now: () => nowMs,
  };
}

describe('a mount', () => {
  it('that turns begins a new stretch at that second; the one beside it does not', async () => {
    const { store, places, logged, readings, feel } = bus();
    const turnedMs = await feel(100, UPRIGHT);
    const endMs = await feel(120, TURNED);
    const [a, b] = places.map((id) => store.mounts.history(id, NOON_MS, endMs));
    expect(
      a!.map(({ fromMs, toMs, turnedDeg }) => [fromMs, toMs, turnedDeg && Math.round(turnedDeg)]),
    ).toEqual([
      [NOON_MS, turnedMs, null],
      [turnedMs, null, 30],
    ]);
    expect(b).toHaveLength(1);
    expect(logged).toEqual([expect.stringMatching(/turned by 30 degrees.*check the clamp/)]);
    const trend = await trendOfLocation({ records: store, readings, zoneOf: () => 'A' }, places[0]!, {
      fromMs: NOON_MS,
      toMs: endMs,
    });
    expect(trend.stretches!.map(({ beganBy, fromMs }) => [beganBy, fromMs])).toEqual([
      ['person', NOON_MS],
      ['turned', turnedMs],
    ]);
  });

  it('keeps its direction over a restart of the server', async () => {
    const { store, feel, restart } = bus();
    await feel(30, UPRIGHT);
    expect(store.stretches.current().map(({ gravity }) => gravity?.[2])).toEqual([9.81, 9.81]);
    restart();
    await feel(100, TURNED);
    expect(store.mounts.current().map(({ turnedDeg }) => turnedDeg !== null)).toEqual([true, false]);
  });

  it('that turned while nobody watched is dated by the stored readings', async () => {
    const { store, places, feel, restart } = bus();
    await feel(30, UPRIGHT);
    await feel(1500, UPRIGHT, UPRIGHT, false);
    const turnedMs = await feel(7, UPRIGHT, UPRIGHT, false);
    await feel(2000, TURNED, UPRIGHT, false);
    restart();
    await feel(100, TURNED);
    expect(store.mounts.currentAt(places[0]!)!.fromMs).toBe(turnedMs);
  });

  it('is not called turned while the whole bus stands askew', async () => {
    const { store, feel } = bus();
    await feel(30, UPRIGHT);
    await feel(300, TURNED, TURNED);
    expect(store.mounts.current().map(({ turnedDeg }) => turnedDeg)).toEqual([null, null]);
  });

  it('is right again when a person says so, and its new direction is learned', async () => {
    const { store, places, feel, now } = bus();
    await feel(30, UPRIGHT);
    await feel(100, TURNED);
    store.stretches.confirm(places[0]!);
    expect(store.mounts.currentAt(places[0]!)).toMatchObject({ fromMs: now(), turnedDeg: null });
    await feel(200, TURNED);
    expect(store.mounts.currentAt(places[0]!)!.turnedDeg).toBeNull();
    const stretch = store.stretches.current().find(({ nodeId }) => nodeId === NODE_A);
    expect(stretch!.gravity![1]).toBeCloseTo(4.905, 3);
  });

  it('follows the angle that the shop has set', async () => {
    const { store, feel } = bus();
    store.settings.write({ mountTurnDeg: 40 });
    await feel(30, UPRIGHT);
    await feel(200, TURNED);
    expect(store.mounts.current().every(({ turnedDeg }) => turnedDeg === null)).toBe(true);
    expect(store.settings.read()).toEqual({ mountTurnDeg: 40 });
  });

  it('is watched in its new place when its sensor is put elsewhere', async () => {
    const { store, places, feel } = bus();
    await feel(30, UPRIGHT);
    store.mounts.put(places[1]!, { nodeId: NODE_A, sensor: 0 });
    await feel(100, TURNED);
    expect(store.mounts.current()).toEqual([
      expect.objectContaining({ nodeId: NODE_A, locationId: places[1], turnedDeg: null }),
    ]);
  });
});
