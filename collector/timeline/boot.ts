import { CaptureMode, PacketFlag, type TimeExchange } from '../../firmware-protocol/index.ts';
import { type Chunk, chunkBytes, isReplay, sameLayout } from './chunk.ts';
import {
  addExchange,
  type ClockPlacement,
  type ExchangePoint,
  exchangePoint,
  placeClock,
} from './clock-map.ts';
import { cover, type Range, uncovered } from './coverage.ts';
import type { TimelineLimits } from './limits.ts';
import { fitFromMemory, type RateMemory, rememberRate } from './rate-memory.ts';
import {
  type Advance,
  advance,
  closeSegment,
  jumpsClock,
  openSegment,
  type Segment,
  type SegmentSink,
} from './segment.ts';

/** Why samples were not used, or what the timeline had to assume. */
export type TimelineCount =
  | 'duplicate-packet'
  | 'overlapping-packet'
  | 'gap'
  | 'clock-jump'
  | 'clock-step'
  | 'exchange'
  | 'exchange-refused'
  | 'segment-closed';

const SMALL_LATENESS_US = 50_000;
const LARGE_LATENESS_US = 2e6;

export interface BootContext {
  limits: TimelineLimits;
  sink: SegmentSink;
  /** The node's rates, shared by its boots. */
  rates: RateMemory;
  count(reason: TimelineCount): void;
}

/** All that is known of one boot; plain data but for the chunks' samples. */
export interface Boot {
  bootId: number;
  firstArrivalUs: number;
  lastArrivalUs: number;
  replay: boolean;
  /** Smallest arrival time minus node clock, µs: places a boot that has not exchanged time. */
  arrivalOffsetUs: number | null;
  /** The offset that such a boot is placed by now. */
  placedOffsetUs: number | null;
  exchanges: ExchangePoint[];
  coverage: Range[];
  segments: Segment[];
  /** Packets with a hole in front of them, ordered by counter. */
  pending: Chunk[];
  nextSegmentId: number;
}

export function createBoot(bootId: number, arrivedAtUs: number): Boot {
  return {
    bootId,
    firstArrivalUs: arrivedAtUs,
    lastArrivalUs: arrivedAtUs,
    replay: false,
    arrivalOffsetUs: null,
    placedOffsetUs: null,
    exchanges: [],
    coverage: [],
    segments: [],
    pending: [],
    nextSegmentId: 0,
  };
}

export function acceptExchange(
  boot: Boot,
  exchange: TimeExchange,
  arrivedAtUs: number,
  context: BootContext,
): void {
  boot.lastArrivalUs = Math.max(boot.lastArrivalUs, arrivedAtUs);
  const point = exchangePoint(exchange);
  const verdict = point === null ? 'refused' : addExchange(boot.exchanges, point);
  if (verdict === 'refused') context.count('exchange-refused');
  else context.count(verdict === 'stepped' ? 'clock-step' : 'exchange');
  drain(boot, arrivedAtUs, context);
}

export function acceptChunk(boot: Boot, chunk: Chunk, context: BootContext): void {
  boot.lastArrivalUs = Math.max(boot.lastArrivalUs, chunk.arrivedAtUs);
  boot.replay = isReplay(chunk.packet);
  const lateUs =
    chunk.arrivedAtUs - (chunk.clockUs + ((chunk.end - chunk.first) * 1e6) / chunk.packet.nominalRateHz);
  boot.arrivalOffsetUs = Math.min(boot.arrivalOffsetUs ?? lateUs, lateUs);

  const waiting = boot.pending.some((p) => p.first <= chunk.first && p.end >= chunk.end);
  if (waiting || uncovered(boot.coverage, chunk.first, chunk.end).length === 0) {
    context.count('duplicate-packet');
    return;
  }
  let at = boot.pending.length;
  while (at > 0 && boot.pending[at - 1]!.first > chunk.first) at--;
  boot.pending.splice(at, 0, chunk);
  drain(boot, chunk.arrivedAtUs, context);
}

/** Uses every waiting packet that can be used at this moment of the journal. */
export function drain(boot: Boot, nowUs: number, context: BootContext): void {
  if (waitsForExchange(boot, nowUs, context.limits)) return;
  for (;;) {
    const at = boot.pending.findIndex((chunk) => placeOf(boot, chunk) !== null);
    if (at >= 0) take(boot, boot.pending[at]!, placeOf(boot, boot.pending[at]!)!, context);
    else if (mustOpen(boot, nowUs, context.limits)) openAt(boot, boot.pending[0]!, context);
    else return;
    boot.pending = boot.pending.filter((c) => uncovered(boot.coverage, c.first, c.end).length > 0);
  }
}

function waitsForExchange(boot: Boot, nowUs: number, limits: TimelineLimits): boolean {
  if (boot.replay || boot.exchanges.length > 0 || boot.segments.length > 0) return false;
  if (nowUs - boot.firstArrivalUs > limits.exchangeWaitUs) return false;
  return boot.pending.length < limits.exchangeWaitPackets && pendingBytes(boot) < limits.exchangeWaitBytes;
}

function pendingBytes(boot: Boot): number {
  return boot.pending.reduce((sum, chunk) => sum + chunkBytes(chunk), 0);
}

interface Place {
  from: number;
  to: number;
  /** The segment it continues; null when it surely begins a new one. */
  segment: Segment | null;
}

/** Where the first unused part of a chunk goes; null while it is not known whether something comes before it. */
function placeOf(boot: Boot, chunk: Chunk): Place | null {
  const part = uncovered(boot.coverage, chunk.first, chunk.end)[0];
  if (part === undefined) return null;
  const [from, to] = part;
  const segment = boot.segments.find((s) => s.next === from);
  if (segment) return { from, to, segment };
  if (from === 0) return { from, to, segment: null };
  // Nothing of this boot came between (the node counts its packets without a hole): lost before it was sent.
  const followed = boot.segments.some((s) => s.lastSequence + 1 === chunk.packet.sequence && s.next < from);
  return followed ? { from, to, segment: null } : null;
}

function mustOpen(boot: Boot, nowUs: number, limits: TimelineLimits): boolean {
  const { pending } = boot;
  if (pending.length === 0) return false;
  if (pending.length > limits.reorderPackets || pendingBytes(boot) > limits.reorderBytes) return true;
  return pending.some((chunk) => nowUs - chunk.arrivedAtUs > limits.reorderUs);
}

function openAt(boot: Boot, chunk: Chunk, context: BootContext): void {
  const [from, to] = uncovered(boot.coverage, chunk.first, chunk.end)[0]!;
  take(boot, chunk, { from, to, segment: null }, context);
}

function take(boot: Boot, chunk: Chunk, { from, to, segment }: Place, context: BootContext): void {
  const step = stepOf(boot, context);
  if (to - from < chunk.end - chunk.first) context.count('overlapping-packet');
  let into = segment;
  if (into !== null && breaks(into, chunk, from, context)) {
    close(boot, into, context);
    into = null;
  }
  if (into === null) {
    if (boot.nextSegmentId > 0) context.count('gap');
    into = begin(boot, chunk, from, context);
  }
  advance(into, chunk, to, step);
  cover(boot.coverage, from, to);
  rememberRate(context.rates, chunk.packet.nominalRateHz, into.fit);
  join(boot, into, context);
}

function begin(boot: Boot, chunk: Chunk, from: number, context: BootContext): Segment {
  const { nominalRateHz } = chunk.packet;
  const fit = fitFromMemory(context.rates, nominalRateHz, chunk.first, chunk.clockUs, isReplay(chunk.packet));
  const segment = openSegment(boot.nextSegmentId++, chunk, from, fit, stepOf(boot, context));
  boot.segments.push(segment);
  if (boot.segments.length > context.limits.segments) {
    const others = boot.segments.filter((s) => s !== segment);
    close(
      boot,
      others.reduce((a, b) => (b.lastArrivalUs < a.lastArrivalUs ? b : a)),
      context,
    );
  }
  return segment;
}

/** Whether samples are missing, or another setting begins, between the segment's end and the chunk. */
function breaks(segment: Segment, chunk: Chunk, from: number, context: BootContext): boolean {
  const last = segment.tail.at(-1);
  if (last && !sameLayout(last.packet, chunk.packet)) return true;
  if (from > chunk.first) return false;
  if ((chunk.packet.flags & (PacketFlag.CaptureStart | PacketFlag.Overrun)) !== 0) return true;
  const jumped = jumpsClock(segment, chunk, chunk.packet.captureMode === CaptureMode.Continuous);
  if (jumped) context.count('clock-jump');
  return jumped;
}

/** When the segment has grown up to the start of another one, the two become one. */
function join(boot: Boot, segment: Segment, context: BootContext): void {
  const other = boot.segments.find((s) => s.start === segment.next && s !== segment);
  if (other === undefined) return;
  const { head, headEnd } = other;
  const seamless = head.length > 0 && !breaks(segment, head[0]!, other.start, context);
  if (!seamless) {
    close(boot, segment, context);
    return;
  }
  const step = stepOf(boot, context);
  const until = headEnd?.counter ?? other.next;
  for (const chunk of head) advance(segment, chunk, Math.min(chunk.end, until), step);
  if (headEnd === null) {
    boot.segments = boot.segments.filter((s) => s !== other);
    step.sink.closed(other);
  } else {
    closeSegment(segment, step, true);
    boot.segments = boot.segments.filter((s) => s !== segment);
    other.start = segment.start;
    // Running through the other's head has completed the segment's own.
    other.head = segment.headEnd === null ? [] : segment.head;
    other.headEnd = segment.headEnd ?? headEnd;
  }
}

function close(boot: Boot, segment: Segment, context: BootContext): void {
  closeSegment(segment, stepOf(boot, context));
  boot.segments = boot.segments.filter((s) => s !== segment);
  context.count('segment-closed');
}

export function closeBoot(boot: Boot, context: BootContext): void {
  for (const segment of [...boot.segments]) close(boot, segment, context);
}

function stepOf(boot: Boot, context: BootContext): Advance {
  return { place: (nodeUs) => placeBoot(boot, nodeUs), sink: context.sink, warmUpS: context.limits.warmUpS };
}

function placeBoot(boot: Boot, atUs: number): ClockPlacement {
  if (boot.replay) return { atUs, offsetUs: 0, skew: 0, uncertaintyUs: 0 };
  if (boot.exchanges.length > 0) return placeClock(boot.exchanges, atUs);
  return { atUs, offsetUs: offsetByArrival(boot), skew: 0, uncertaintyUs: null };
}

/**
 * A quicker packet shows that the boot is to be placed earlier. In a backlog that comes in one burst every packet
 * does; followed at once, no block would ever be whole.
 */
function offsetByArrival(boot: Boot): number {
  const smallest = boot.arrivalOffsetUs ?? 0;
  const lower = (boot.placedOffsetUs ?? Number.POSITIVE_INFINITY) - smallest;
  if (lower < SMALL_LATENESS_US || lower > LARGE_LATENESS_US) boot.placedOffsetUs = smallest;
  return boot.placedOffsetUs!;
}
