import { currentBoot, type HealthState, type NodeHealth, newHealth, nodeHealth } from '../rig/node-health.ts';
import { type Boot, type BootContext, createBoot } from '../timeline/boot.ts';
import { closeBoot } from '../timeline/boot-segments.ts';
import { type BootState, bootState, neededPositions, restoreBoot } from '../timeline/boot-state.ts';
import type { Chunk } from '../timeline/chunk.ts';
import { placeClock } from '../timeline/clock-map.ts';
import type { RateMemory } from '../timeline/rate-memory.ts';

/** What the pipeline knows of one node. */
export interface Node {
  nodeId: string;
  lastArrivalUs: number;
  rates: RateMemory;
  /** Of its sensor part, as its status says; 0: not known. */
  noiseDensityMPerS2PerRtHz: number;
  boots: Boot[];
  health: HealthState;
}

/** A node as it is kept on disk; `version` moves when older state cannot be read any more. */
export interface NodeState extends Omit<Node, 'boots' | 'health'> {
  version: typeof STATE_VERSION;
  boots: BootState[];
  /** Absent in state saved before it was kept. */
  health?: HealthState;
}

const STATE_VERSION = 1;

export function createNode(nodeId: string): Node {
  return {
    nodeId,
    lastArrivalUs: 0,
    rates: [],
    noiseDensityMPerS2PerRtHz: 0,
    boots: [],
    health: newHealth(),
  };
}

/** The boot with this id; a new one takes the place of the one idle for longest when the node has too many. */
export function bootOf(node: Node, bootId: number, arrivedAtUs: number, context: BootContext): Boot {
  node.lastArrivalUs = Math.max(node.lastArrivalUs, arrivedAtUs);
  const known = node.boots.find((b) => b.bootId === bootId);
  if (known) return known;
  const boot = createBoot(bootId, arrivedAtUs);
  node.boots.push(boot);
  if (node.boots.length > context.limits.boots) {
    const idle = node.boots.reduce((a, b) => (b.lastArrivalUs < a.lastArrivalUs ? b : a));
    closeBoot(idle, context);
    node.boots = node.boots.filter((b) => b !== idle);
  }
  return boot;
}

export function nodeState(node: Node): NodeState {
  return { version: STATE_VERSION, ...node, boots: node.boots.map(bootState) };
}

export function nodePositions(state: NodeState): number[] {
  return state.boots.flatMap(neededPositions);
}

export function restoreNode(state: NodeState, chunkAt: (position: number) => Chunk | undefined): Node {
  const { version: _, health = newHealth(), ...kept } = state;
  return { ...kept, health, boots: state.boots.map((boot) => restoreBoot(boot, chunkAt)) };
}

/** How the node does, with what the timeline knows of its clock. */
export function healthOf({ nodeId, health, boots }: Node): NodeHealth {
  const bootId = currentBoot(health)?.bootId;
  const exchanges = boots.find((boot) => boot.bootId === bootId)?.exchanges ?? [];
  // The skew is how fast station time grows against the node's: a clock that runs fast has one below 0.
  const newest = exchanges.at(-1);
  const errorPpm =
    newest === undefined || exchanges.length < 2 ? null : -1e6 * placeClock(exchanges, newest.nodeUs).skew;
  return nodeHealth(nodeId, health, errorPpm);
}
