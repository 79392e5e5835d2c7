import { type NodeState, nodePositions } from './node.ts';

/** Rows of state as the store keeps them. */
export type SavedState = [key: string, json: string][];

/** What to write and what to delete, in the same transaction as the readings and the journal position. */
export interface StateChange {
  set: SavedState;
  remove: string[];
}

export interface ClockState {
  nowUs: number;
  sweptUs: number;
}

const CLOCK_KEY = 'clock';
const NODE_PREFIX = 'node/';

export function clockRow(clock: ClockState): [string, string] {
  return [CLOCK_KEY, JSON.stringify(clock)];
}

export function nodeKey(nodeId: string): string {
  return NODE_PREFIX + nodeId;
}

export function nodeRow(state: NodeState): [string, string] {
  return [nodeKey(state.nodeId), JSON.stringify(state)];
}

export function parseSaved(saved: SavedState): ClockState & { nodes: NodeState[] } {
  let clock: ClockState = { nowUs: 0, sweptUs: 0 };
  const nodes: NodeState[] = [];
  for (const [key, json] of saved) {
    if (key === CLOCK_KEY) clock = JSON.parse(json);
    else if (key.startsWith(NODE_PREFIX)) nodes.push(JSON.parse(json));
  }
  return { ...clock, nodes };
}

/** Journal positions of the records that a pipeline restored from this state needs, in order. */
export function positionsNeeded(saved: SavedState): number[] {
  return [...new Set(parseSaved(saved).nodes.flatMap(nodePositions))].sort((a, b) => a - b);
}
