import type { BootContext } from '../timeline/boot.ts';
import { closeBoot, closeOne } from '../timeline/boot-segments.ts';
import { chunkBytes } from '../timeline/chunk.ts';
import type { Segment } from '../timeline/segment.ts';
import { createNode, type Node, nodeState } from './node.ts';
import { nodeKey, nodeRow, type StateChange } from './saved-state.ts';

/** The nodes in memory: not more than allowed, with not more samples than allowed, and which of them have changed. */
export interface NodeTable {
  get(nodeId: string): Node;
  add(node: Node): void;
  all(): Iterable<Node>;
  changed(node: Node): void;
  /** Those that changed since the last call; at first all that were restored. */
  takeHeard(): Node[];
  /** Closes stretches that are idle for longest until the samples kept fit; true when there was need. */
  fitSamples(): boolean;
  /** Rows to save for what changed since the last call. */
  takeChange(): StateChange;
}

export interface NodeTableOptions {
  maxNodes: number;
  maxSampleBytes: number;
  contextOf(node: Node): BootContext;
  /** Called for a node that was pushed out by a new one. */
  forgot(nodeId: string): void;
}

export function createNodeTable({
  maxNodes,
  maxSampleBytes,
  contextOf,
  forgot,
}: NodeTableOptions): NodeTable {
  const nodes = new Map<string, Node>();
  const dirty = new Set<Node>();
  const heard = new Set<Node>();
  const gone = new Set<string>();

  function forgetOne(): void {
    const idle = [...nodes.values()].reduce((a, b) => (b.lastArrivalUs < a.lastArrivalUs ? b : a));
    for (const boot of idle.boots) closeBoot(boot, contextOf(idle));
    nodes.delete(idle.nodeId);
    dirty.delete(idle);
    heard.delete(idle);
    gone.add(idle.nodeId);
    forgot(idle.nodeId);
  }

  return {
    get(nodeId) {
      const known = nodes.get(nodeId);
      if (known) return known;
      if (nodes.size >= maxNodes) forgetOne();
      const node = createNode(nodeId);
      nodes.set(nodeId, node);
      gone.delete(nodeId);
      return node;
    },
    add(node) {
      nodes.set(node.nodeId, node);
      heard.add(node);
    },
    all: () => nodes.values(),
    changed(node) {
      dirty.add(node);
      heard.add(node);
    },
    takeHeard() {
      const taken = [...heard];
      heard.clear();
      return taken;
    },
    fitSamples() {
      let bytes = 0;
      const idle: { node: Node; boot: Node['boots'][number]; segment: Segment; bytes: number }[] = [];
      for (const node of nodes.values()) {
        for (const boot of node.boots) {
          const newest = Math.max(...boot.segments.map((s) => s.lastArrivalUs));
          for (const segment of boot.segments) {
            const own = sampleBytes(segment);
            bytes += own;
            const active = boot === node.boots.at(-1) && segment.lastArrivalUs === newest;
            if (!active) idle.push({ node, boot, segment, bytes: own });
          }
        }
      }
      if (bytes <= maxSampleBytes) return false;
      idle.sort((a, b) => a.segment.lastArrivalUs - b.segment.lastArrivalUs);
      for (const { node, boot, segment, bytes: own } of idle) {
        if (bytes <= maxSampleBytes) break;
        closeOne(boot, segment, contextOf(node));
        dirty.add(node);
        bytes -= own;
      }
      return true;
    },
    takeChange() {
      const set = [...dirty].map((node) => nodeRow(nodeState(node)));
      const remove = [...gone].map(nodeKey);
      dirty.clear();
      gone.clear();
      return { set, remove };
    },
  };
}

function sampleBytes(segment: Segment): number {
  return [...segment.head, ...segment.tail].reduce((sum, chunk) => sum + chunkBytes(chunk), 0);
}
