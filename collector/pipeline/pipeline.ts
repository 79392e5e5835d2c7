import {
  DecodeError,
  decodeSamplePacket,
  decodeTimeRequest,
  type NodeTopic,
  parseNodeTopic,
} from '../../firmware-protocol/index.ts';
import { liveBlock } from '../live/live-block.ts';
import type { BandName } from '../measure/band.ts';
import type { LiveBlock, Reading } from '../model.ts';
import { acceptChunk, acceptExchange, type BootContext, closeBoot, drain } from '../timeline/boot.ts';
import { type Chunk, chunkOf } from '../timeline/chunk.ts';
import { DEFAULT_LIMITS, type TimelineLimits } from '../timeline/limits.ts';
import type { SegmentSink } from '../timeline/segment.ts';
import { createCounters } from './counters.ts';
import { bootOf, createNode, type Node, nodeState, restoreNode } from './node.ts';
import { clockRow, nodeKey, nodeRow, parseSaved, type SavedState, type StateChange } from './saved-state.ts';
import { createSegmentMeter, readingsOf, type SegmentMeter } from './segment-meter.ts';

/** One message of the journal. */
export interface PipelineRecord {
  position: number;
  topic: string;
  payload: Uint8Array;
  arrivedAtUs: number;
}

export interface PipelineOptions {
  band?: BandName;
  /** Nodes kept in memory (2 to 3 MB for a board of 3 axes at 25.6 kHz); beyond, the longest silent is forgotten. */
  maxNodes?: number;
  limits?: Partial<TimelineLimits>;
  /** Whether somebody watches a sensor: then its blocks come with waveform and spectrum. */
  watches?(nodeId: string, sensor: number): boolean;
}

export interface PipelineOutput {
  readings: Reading[];
  live: LiveBlock[];
}

/** Journal records in, readings out. No clock: time passes only as records say. */
export interface Pipeline {
  accept(record: PipelineRecord): PipelineOutput;
  counters(): Record<string, number>;
  /** What changed since the last call: to be saved with the readings and the position of the journal so far. */
  checkpoint(): StateChange;
  /** Arrival time of the newest record, µs; 0 before the first. */
  newestArrivalUs(): number;
}

const CODE_NAMES = new Map<number, string>(Object.entries(DecodeError).map(([name, code]) => [code, name]));
/** Readings claimed for a time further ahead of their arrival than this are a fault of the node's clock. */
const FUTURE_S = 86_400;
/** How often, by arrival time, waiting packets of all nodes are looked at. */
const SWEEP_US = 250_000;

export function createPipeline(
  options: PipelineOptions = {},
  saved: SavedState = [],
  recordAt: (position: number) => PipelineRecord | undefined = () => undefined,
): Pipeline {
  const { band = '10-1000', maxNodes = 1024 } = options;
  const warmUpS = band === '2-1000' ? 11 : DEFAULT_LIMITS.warmUpS;
  const limits = { ...DEFAULT_LIMITS, warmUpS, ...options.limits };
  const counters = createCounters();
  const nodes = new Map<string, Node>();
  const meters = new WeakMap<object, SegmentMeter>();
  const dirty = new Set<string>();
  const forgotten = new Set<string>();
  let output: PipelineOutput = { readings: [], live: [] };
  let nowUs = 0;
  let sweptUs = 0;

  restore();

  function restore(): void {
    const state = parseSaved(saved);
    nowUs = state.nowUs;
    sweptUs = state.sweptUs;
    for (const kept of state.nodes) {
      const node = restoreNode(kept, (at) => chunkAt(kept.nodeId, at));
      nodes.set(node.nodeId, node);
      for (const boot of node.boots) {
        for (const segment of boot.segments) {
          meters.set(segment, createSegmentMeter(segment, segment.tail[0]!, band));
        }
      }
    }
  }

  function chunkAt(nodeId: string, at: number): Chunk | undefined {
    const record = recordAt(at);
    const topic = record && parseNodeTopic(record.topic);
    if (!record || topic?.nodeId !== nodeId) return undefined;
    const decoded = decodeSamplePacket(record.payload);
    return decoded.ok ? chunkOf(decoded.packet, at, record.arrivedAtUs) : undefined;
  }

  function contextOf(node: Node): BootContext {
    const sink: SegmentSink = {
      opened: (segment, chunk) => void meters.set(segment, createSegmentMeter(segment, chunk, band)),
      fed: (segment, chunk, from, to) => meters.get(segment)!.fed(chunk, from, to),
      cut(segment, block) {
        const sensors = meters.get(segment)!.cut(segment, block);
        if (block.second * 1e6 > nowUs + FUTURE_S * 1e6) {
          counters.add('time-in-future');
          return;
        }
        const readings = readingsOf(node.nodeId, block, sensors);
        if (readings.length === 0) counters.add('fragment');
        output.readings.push(...readings);
        for (const { sensor } of readings) {
          if (!options.watches?.(node.nodeId, sensor)) continue;
          const live = liveBlock(node.nodeId, sensor, segment, block);
          if (live) output.live.push(live);
        }
      },
      closed: (segment) => void meters.delete(segment),
    };
    return { limits, sink, rates: node.rates, count: (reason) => counters.add(reason) };
  }

  function nodeOf(nodeId: string): Node {
    const known = nodes.get(nodeId);
    if (known) return known;
    if (nodes.size >= maxNodes) forgetOne();
    const node = createNode(nodeId);
    nodes.set(nodeId, node);
    forgotten.delete(nodeId);
    return node;
  }

  function forgetOne(): void {
    const idle = [...nodes.values()].reduce((a, b) => (b.lastArrivalUs < a.lastArrivalUs ? b : a));
    for (const boot of idle.boots) closeBoot(boot, contextOf(idle));
    nodes.delete(idle.nodeId);
    dirty.delete(idle.nodeId);
    forgotten.add(idle.nodeId);
    counters.add('node-forgotten');
  }

  function sweep(): void {
    if (nowUs - sweptUs < SWEEP_US) return;
    sweptUs = nowUs;
    for (const node of nodes.values()) {
      for (const boot of node.boots) {
        if (boot.pending.length === 0) continue;
        dirty.add(node.nodeId);
        drain(boot, nowUs, contextOf(node));
      }
    }
  }

  function acceptSamples(record: PipelineRecord, topic: NodeTopic): void {
    const decoded = decodeSamplePacket(record.payload);
    if (!decoded.ok) {
      counters.add(`malformed-${CODE_NAMES.get(decoded.code)}`);
      return;
    }
    if (decoded.packet.nodeId !== topic.nodeId) {
      counters.add('wrong-node');
      return;
    }
    const node = nodeOf(topic.nodeId);
    const context = contextOf(node);
    const boot = bootOf(node, decoded.packet.bootId, record.arrivedAtUs, context);
    counters.add('packets');
    acceptChunk(boot, chunkOf(decoded.packet, record.position, record.arrivedAtUs), context);
    dirty.add(node.nodeId);
  }

  function acceptTime(record: PipelineRecord, topic: NodeTopic): void {
    const decoded = decodeTimeRequest(record.payload);
    if (!decoded.ok) {
      counters.add(`malformed-time-${CODE_NAMES.get(decoded.code)}`);
      return;
    }
    const { nodeId, bootId, previous } = decoded.message;
    if (nodeId !== topic.nodeId) {
      counters.add('wrong-node');
      return;
    }
    if (previous === null) return;
    const node = nodeOf(nodeId);
    const context = contextOf(node);
    acceptExchange(bootOf(node, bootId, record.arrivedAtUs, context), previous, record.arrivedAtUs, context);
    dirty.add(nodeId);
  }

  return {
    accept(record) {
      output = { readings: [], live: [] };
      nowUs = Math.max(nowUs, record.arrivedAtUs);
      const topic = parseNodeTopic(record.topic);
      if (topic === null) counters.add('other-topic');
      else if (topic.kind === 'samples') acceptSamples(record, topic);
      else if (topic.kind === 'time') acceptTime(record, topic);
      sweep();
      return output;
    },
    counters: counters.snapshot,
    checkpoint() {
      const set = [...dirty].map((nodeId) => nodeRow(nodeState(nodes.get(nodeId)!)));
      const remove = [...forgotten].map(nodeKey);
      dirty.clear();
      forgotten.clear();
      return { set: [clockRow({ nowUs, sweptUs }), ...set], remove };
    },
    newestArrivalUs: () => nowUs,
  };
}
