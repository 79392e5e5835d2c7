import { type Boot, type BootContext, createBoot } from '../timeline/boot.ts';
import { closeBoot } from '../timeline/boot-segments.ts';
import { type BootState, bootState, neededPositions, restoreBoot } from '../timeline/boot-state.ts';
import type { Chunk } from '../timeline/chunk.ts';
import type { RateMemory } from '../timeline/rate-memory.ts';

/** What the pipeline knows of one node. */
export interface Node {
  nodeId: string;
  lastArrivalUs: number;
  rates: RateMemory;
  /** Of its sensor part, as its status says; 0: not known. */
  noiseDensityMPerS2PerRtHz: number;
  boots: Boot[];
}

/** A node as it is kept on disk; `version` moves when older state cannot be read any more. */
export type NodeState = Omit<Node, 'boots'> & { version: typeof STATE_VERSION; boots: BootState[] };

const STATE_VERSION = 1;

export function createNode(nodeId: string): Node {
  return { nodeId, lastArrivalUs: 0, rates: [], noiseDensityMPerS2PerRtHz: 0, boots: [] };
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
  const { version: _, ...kept } = state;
  return { ...kept, boots: state.boots.map((boot) => restoreBoot(boot, chunkAt)) };
}
