import { judgeNode } from '../../../collector/index.ts';
import type { NodeSummary } from '../../contract/model.ts';
import type { Context } from '../context.ts';

/** Every node that may connect, with what it sends, how it does and where its sensors sit. */
export function nodeViews({ records, newest, rig, now }: Context): NodeSummary[] {
  const mounts = records.mounts.current();
  return records.nodes.list().map(({ nodeId, label }): NodeSummary => {
    const seen = newest.ofNode(nodeId);
    const mounted = mounts.filter((mount) => mount.nodeId === nodeId);
    const health = rig.health(nodeId);
    const numbers = new Set([...seen, ...mounted, ...(health?.sensors ?? [])].map(({ sensor }) => sensor));
    const sensors = [...numbers]
      .sort((a, b) => a - b)
      .map((sensor) => ({
        sensor,
        locationId: mounted.find((mount) => mount.sensor === sensor)?.locationId ?? null,
      }));
    const ends = seen.map(({ startMs, durationS }) => startMs + 1000 * durationS);
    const lastSeenMs = ends.length === 0 ? null : Math.round(Math.max(...ends));
    const soundness = judgeNode({ health, lastDataMs: lastSeenMs, nowMs: now() });
    return {
      nodeId,
      label,
      sensors,
      lastSeenMs,
      soundness,
      ...(health === null ? {} : { health: plain(health) }),
    };
  });
}

/** The contract's shape: vectors there are plain tuples. */
function plain(
  health: NonNullable<ReturnType<Context['rig']['health']>>,
): NonNullable<NodeSummary['health']> {
  const sensors = health.sensors.map((sensor) => ({
    ...sensor,
    gravityMPerS2:
      sensor.gravityMPerS2 === null ? null : ([...sensor.gravityMPerS2] as [number, number, number]),
  }));
  return { ...health, sensors };
}
