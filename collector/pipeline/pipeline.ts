import {
  type NodeEvent,
  type NodeStatus,
  type SamplePacket,
  type TimeRequest,
  TimeSource,
} from '../../firmware-protocol/index.ts';
import { liveBlock } from '../live/live-block.ts';
import type { BandName } from '../measure/band.ts';
import type { BlockSpectrum, LiveBlock, Reading } from '../model.ts';
import { type NodeHealth, noteBlock, noteExchange, noteSamples, noteStatus } from '../rig/node-health.ts';
import type { Tap } from '../rig/tap.ts';
import { acceptChunk, acceptExchange, drain } from '../timeline/arrivals.ts';
import type { BootContext } from '../timeline/boot.ts';
import { type Chunk, chunkOf } from '../timeline/chunk.ts';
import { DEFAULT_LIMITS, type TimelineLimits } from '../timeline/limits.ts';
import { type Block, rateIsKnown, type Segment } from '../timeline/segment.ts';
import { createCounters } from './counters.ts';
import { messageOf, type PipelineRecord } from './messages.ts';
import { bootOf, healthOf, type Node, restoreNode } from './node.ts';
import { createNodeTable } from './node-table.ts';
import { clockRow, parseSaved, type SavedState, type StateChange } from './saved-state.ts';
import { createSegmentMeter, readingsOf, type SegmentMeter, spectraOf } from './segment-meter.ts';
import { createTapFinder } from './tap-finder.ts';

export type { PipelineRecord } from './messages.ts';

export interface PipelineOptions {
  band?: BandName;
  /** Nodes kept in memory; beyond, the longest silent is forgotten. Default 1024. */
  maxNodes?: number;
  /**
   * Samples kept for open blocks, warm-up and late backlogs (a stretch of 3 axes at 3.2 kHz keeps about 100 kB);
   * beyond, idle stretches are closed. Default 128 MiB.
   */
  maxSampleBytes?: number;
  limits?: Partial<TimelineLimits>;
  /** Whether somebody watches a sensor: then its blocks come with waveform and spectrum. */
  watches?(nodeId: string, sensor: number): boolean;
}

export interface PipelineOutput {
  readings: Reading[];
  /** Of the same blocks, where they have one. */
  spectra: BlockSpectrum[];
  live: LiveBlock[];
  taps: Tap[];
}

/** Journal records in, readings out. No clock: time passes only as records say. */
export interface Pipeline {
  accept(record: PipelineRecord): PipelineOutput;
  counters(): Record<string, number>;
  /** Of the nodes heard since the last call; at first of all known. */
  health(): NodeHealth[];
  /** What changed since the last call: to be saved with the readings and the position of the journal so far. */
  checkpoint(): StateChange;
  /** Arrival time of the newest record, µs; 0 before the first. */
  newestArrivalUs(): number;
}

/** Readings claimed for a time further ahead of their arrival than this are a fault of the node's clock. */
const FUTURE_S = 86_400;
/** How often, by arrival time, waiting packets of all nodes are looked at. */
const SWEEP_US = 250_000;

export function createPipeline(
  options: PipelineOptions = {},
  saved: SavedState = [],
  recordAt: (position: number) => PipelineRecord | undefined = () => undefined,
): Pipeline {
  const { band = '10-1000', maxNodes = 1024, maxSampleBytes = 128 * 2 ** 20 } = options;
  const warmUpS = band === '2-1000' ? 11 : DEFAULT_LIMITS.warmUpS;
  const limits = { ...DEFAULT_LIMITS, warmUpS, ...options.limits };
  const counters = createCounters();
  const meters = new WeakMap<Segment, SegmentMeter>();
  const taps = createTapFinder();
  const forgot = (nodeId: string) => {
    counters.add('node-forgotten');
    taps.forget(nodeId);
  };
  const nodes = createNodeTable({ maxNodes, maxSampleBytes, contextOf, forgot });
  const state = parseSaved(saved);
  let { nowUs, sweptUs } = state;
  let output: PipelineOutput = nothing();

  for (const kept of state.nodes) {
    const node = restoreNode(kept, (at) => chunkAt(kept.nodeId, at));
    nodes.add(node);
    for (const { segments } of node.boots)
      for (const segment of segments) makeMeter(node, segment, segment.tail[0]!);
  }

  function chunkAt(nodeId: string, at: number): Chunk | undefined {
    const record = recordAt(at);
    const message = record && messageOf(record);
    if (message?.kind !== 'samples' || message.packet.nodeId !== nodeId) return undefined;
    return chunkOf(message.packet, at, record!.arrivedAtUs);
  }

  function makeMeter({ noiseDensityMPerS2PerRtHz }: Node, segment: Segment, first: Chunk): void {
    meters.set(segment, createSegmentMeter(segment, first, { band, noiseDensityMPerS2PerRtHz }));
  }

  function contextOf(node: Node): BootContext {
    const sink: BootContext['sink'] = {
      opened: (segment, first) => makeMeter(node, segment, first),
      fed: (segment, chunk, from, to) => meters.get(segment)!.fed(chunk, from, to),
      cut: (segment, block) => measure(node, segment, block),
      closed: (segment) => void meters.delete(segment),
    };
    return { limits, sink, rates: node.rates, count: (reason) => counters.add(reason) };
  }

  function measure(node: Node, segment: Segment, block: Block): void {
    const sensors = meters.get(segment)!.cut(segment, block);
    if (block.second * 1e6 > nowUs + FUTURE_S * 1e6) {
      counters.add('time-in-future');
      return;
    }
    const { nodeId } = node;
    const readings = readingsOf(nodeId, block, sensors);
    if (readings.length === 0) counters.add('fragment');
    output.readings.push(...readings);
    output.spectra.push(...spectraOf(readings, sensors));
    watchOver(node, readings, segment);
    for (const { sensor } of readings) {
      if (!options.watches?.(nodeId, sensor)) continue;
      const live = liveBlock(nodeId, sensor, segment, block);
      if (live) output.live.push(live);
    }
  }

  function watchOver(node: Node, readings: Reading[], segment: Segment): void {
    const nominalRateHz = segment.tail.at(-1)?.packet.nominalRateHz ?? 1e6 / segment.fit.periodUs;
    const rate = { nominalRateHz, known: rateIsKnown(segment.fit) };
    for (const reading of readings) {
      noteBlock(node.health, reading, rate);
      // Blows in a recording are nobody's rap.
      if (node.health.source !== TimeSource.Replay) output.taps.push(...taps.inReading(reading, nowUs));
    }
  }

  function sweep(): void {
    if (nowUs - sweptUs < SWEEP_US) return;
    sweptUs = nowUs;
    for (const node of nodes.all()) {
      for (const boot of node.boots) {
        if (boot.pending.length === 0) continue;
        nodes.changed(node);
        drain(boot, nowUs, contextOf(node));
      }
    }
    if (nodes.fitSamples()) counters.add('samples-over-limit');
  }

  function acceptSamples(packet: SamplePacket, { position, arrivedAtUs }: PipelineRecord): void {
    const node = nodes.get(packet.nodeId);
    const context = contextOf(node);
    counters.add('packets');
    noteSamples(node.health, packet, inMs(arrivedAtUs));
    acceptChunk(
      bootOf(node, packet.bootId, arrivedAtUs, context),
      chunkOf(packet, position, arrivedAtUs),
      context,
    );
    nodes.changed(node);
  }

  /** The exchange that a request carries was completed before it. */
  function acceptTime({ nodeId, bootId, previous }: TimeRequest, { arrivedAtUs }: PipelineRecord): void {
    if (previous === null) return;
    const node = nodes.get(nodeId);
    const context = contextOf(node);
    acceptExchange(bootOf(node, bootId, arrivedAtUs, context), previous, arrivedAtUs, context);
    noteExchange(node.health, inMs(arrivedAtUs));
    nodes.changed(node);
  }

  /** What a status says of the sensor part holds for meters made from now on. */
  function acceptStatus(status: NodeStatus, { arrivedAtUs }: PipelineRecord): void {
    const node = nodes.get(status.nodeId);
    noteStatus(node.health, status, inMs(arrivedAtUs));
    // A last will is written before the node knows its sensor.
    if (status.noiseDensityUmPerS2PerRtHz !== null)
      node.noiseDensityMPerS2PerRtHz = status.noiseDensityUmPerS2PerRtHz / 1e6;
    node.lastArrivalUs = Math.max(node.lastArrivalUs, arrivedAtUs);
    nodes.changed(node);
  }

  function acceptEvent(event: NodeEvent, { arrivedAtUs }: PipelineRecord): void {
    const node = nodes.get(event.nodeId);
    const boot = node.boots.find(({ bootId }) => bootId === event.bootId);
    output.taps.push(...taps.inEvent(event, arrivedAtUs, boot?.exchanges ?? []));
  }

  return {
    accept(record) {
      output = nothing();
      nowUs = Math.max(nowUs, record.arrivedAtUs);
      const message = messageOf(record);
      if (message.kind === 'samples') acceptSamples(message.packet, record);
      else if (message.kind === 'time') acceptTime(message.request, record);
      else if (message.kind === 'status') acceptStatus(message.status, record);
      else if (message.kind === 'event') acceptEvent(message.event, record);
      else counters.add(message.reason);
      sweep();
      return output;
    },
    counters: counters.snapshot,
    health: () => nodes.takeHeard().map(healthOf),
    checkpoint() {
      const { set, remove } = nodes.takeChange();
      return { set: [clockRow({ nowUs, sweptUs }), ...set], remove };
    },
    newestArrivalUs: () => nowUs,
  };
}

function nothing(): PipelineOutput {
  return { readings: [], spectra: [], live: [], taps: [] };
}

function inMs(us: number): number {
  return Math.round(us / 1000);
}
