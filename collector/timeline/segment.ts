import { type Chunk, isReplay } from './chunk.ts';
import type { ClockPlacement } from './clock-map.ts';
import {
  CLOCK_JITTER_US,
  clockAt,
  counterAt,
  innovation,
  type RateFit,
  REPLAY_JITTER_US,
  relativeRateSd,
  updateRateFit,
} from './rate-fit.ts';

/** A finished block: the samples of one whole Unix second as far as they are there. */
export interface Block {
  /** Unix second. */
  second: number;
  /** Counters [start, end). */
  start: number;
  end: number;
  /** True sample rate in station seconds. */
  rateHz: number;
  /** Begins and ends at the second's edges. */
  whole: boolean;
  /** Largest expected error of the block's time; null: the boot has not exchanged time (placed by arrival). */
  timeUncertaintyUs: number | null;
}

interface OpenBlock {
  second: number;
  start: number;
  /** Unix µs of `start` as it was known when the block began. */
  startUs: number;
  /** Begins at the second's edge. */
  aligned: boolean;
}

/** What a segment tells whoever measures it. */
export interface SegmentSink {
  /** `first`: the packet it begins with. */
  opened(segment: Segment, first: Chunk): void;
  /** Frames [from, to) of the chunk, contiguous with what came before in this segment. */
  fed(segment: Segment, chunk: Chunk, from: number, to: number): void;
  cut(segment: Segment, block: Block): void;
  closed(segment: Segment): void;
}

/** A contiguous stretch of one boot's samples that can still grow at its end. */
export interface Segment {
  /** Unique within the boot. */
  id: number;
  /** Counters [start, next) are in. */
  start: number;
  next: number;
  lastSequence: number;
  lastArrivalUs: number;
  fit: RateFit;
  /** What the segment's meters were made for; null until then. Kept by whoever measures it. */
  design: { rateHz: number; noiseDensityMPerS2PerRtHz: number } | null;
  open: OpenBlock;
  /** Counters at which blocks were cut, as far back as the tail reaches; the last is `open.start`. */
  cuts: number[];
  /** Clock of the last packet if it did not fit: µs off. A second one like it ends the segment. */
  suspectUs: number | null;
  /**
   * Packets of the segment's first blocks, which were measured while the filter settled: measured again without
   * a seam when what was missing in front of the segment arrives late. `headEnd` is set once the head is whole, or
   * when nothing can come in front.
   */
  head: Chunk[];
  headEnd: { counter: number; second: number } | null;
  headCuts: number;
  /** Packets of the open block and of the warm-up in front of it. */
  tail: Chunk[];
}

export interface Advance {
  place(nodeUs: number): ClockPlacement;
  sink: SegmentSink;
  /** Seconds of samples that settle a fresh filter to far below a reading's precision. */
  warmUpS: number;
}

/** Time may move by this much under an open block; beyond, the block is ended where it stands. */
const STEP_US = 100_000;
/** A block whose edges are this close to the second's is whole. */
const EDGE_US = 20_000;
/** Share of a sample within which a sample counts as lying on the second: clocks are whole microseconds. */
const EDGE_SAMPLES = 0.05;
const JUMP_US = 50_000;

function jitterUs(chunk: Chunk): number {
  return isReplay(chunk.packet) ? REPLAY_JITTER_US : CLOCK_JITTER_US;
}

export interface Beginning {
  id: number;
  chunk: Chunk;
  from: number;
  fit: RateFit;
  /** What lies in front may still arrive: then the head is kept for a join without a seam. */
  joinable: boolean;
}

export function openSegment({ id, chunk, from, fit, joinable }: Beginning, step: Advance): Segment {
  const startUs = unixUs(fit, from, step.place(clockAt(fit, from)));
  const open = blockAt(fit, from, startUs);
  const segment: Segment = {
    id,
    start: from,
    next: from,
    lastSequence: chunk.packet.sequence,
    lastArrivalUs: chunk.arrivedAtUs,
    fit,
    design: null,
    open,
    cuts: [from],
    suspectUs: null,
    head: [],
    headEnd: joinable ? null : { counter: from, second: open.second },
    headCuts: 0,
    tail: [],
  };
  step.sink.opened(segment, chunk);
  return segment;
}

/** Whether the chunk's clock says that time passed between it and the segment while the counter stood still. */
export function jumpsClock(segment: Segment, chunk: Chunk, continuous: boolean): boolean {
  const { us, sdUs } = innovation(segment.fit, chunk.first, chunk.clockUs, jitterUs(chunk));
  if (Math.abs(us) <= Math.max(JUMP_US, 6 * sdUs)) {
    segment.suspectUs = null;
    return false;
  }
  if (!continuous) return true;
  // One odd clock reading is an outlier; two that agree are a jump.
  const confirmed = segment.suspectUs !== null && Math.abs(us - segment.suspectUs) < JUMP_US / 2;
  segment.suspectUs = us;
  return confirmed;
}

/** Takes frames [segment.next, to) of the chunk in, cutting blocks on the way. */
export function advance(segment: Segment, chunk: Chunk, to: number, step: Advance): void {
  const { fit } = segment;
  if (chunk.first >= fit.counter && segment.suspectUs === null) {
    updateRateFit(fit, chunk.first, chunk.clockUs, jitterUs(chunk));
  }
  segment.lastSequence = Math.max(segment.lastSequence, chunk.packet.sequence);
  segment.lastArrivalUs = Math.max(segment.lastArrivalUs, chunk.arrivedAtUs);
  segment.tail.push(chunk);
  if (segment.headEnd === null) segment.head.push(chunk);

  const placement = step.place(clockAt(fit, to));
  const { open } = segment;
  if (Math.abs(unixUs(fit, open.start, placement) - open.startUs) > STEP_US && segment.next > open.start) {
    cut(segment, segment.next, false, placement, step);
  }
  for (;;) {
    const onEdge = counterAtUnix(fit, (segment.open.second + 1) * 1e6, placement);
    const edge = Math.max(Math.ceil(onEdge - EDGE_SAMPLES), segment.open.start + 1);
    const stop = Math.min(to, Math.max(edge, segment.next));
    if (stop > segment.next) step.sink.fed(segment, chunk, segment.next, stop);
    segment.next = stop;
    if (edge > to) break;
    cut(segment, stop, (stop - edge) * fit.periodUs < EDGE_US, placement, step);
  }
  trim(segment, step.warmUpS, placement);
}

/** Ends the open block at `end` (no sample beyond it has been fed) and begins the next. */
function cut(segment: Segment, end: number, atEdge: boolean, placement: ClockPlacement, step: Advance): void {
  const { open, fit } = segment;
  if (end > open.start) {
    const rate = rateHz(fit, placement);
    const complete = Math.abs(end - open.start - rate) < 0.05 * rate;
    const fitSdUs = Math.sqrt(fit.pcc);
    step.sink.cut(segment, {
      second: open.second,
      start: open.start,
      end,
      rateHz: rate,
      whole: open.aligned && atEdge && complete,
      timeUncertaintyUs: placement.uncertaintyUs === null ? null : placement.uncertaintyUs + fitSdUs,
    });
  }
  segment.open = blockAt(fit, end, unixUs(fit, end, placement));
  if (segment.cuts.at(-1) !== end) segment.cuts.push(end);
  segment.headCuts++;
  if (segment.headEnd === null && segment.headCuts > step.warmUpS) {
    segment.headEnd = { counter: end, second: segment.open.second };
    segment.head = segment.head.filter((c) => c.first < end);
  }
}

/** Ends the segment: what the open block holds is handed out as a part of its second. */
export function closeSegment(segment: Segment, step: Advance, atEdge = false): void {
  if (segment.next > segment.open.start) {
    cut(segment, segment.next, atEdge, step.place(clockAt(segment.fit, segment.next)), step);
  }
  step.sink.closed(segment);
}

/** Drops what no filter needs any more from the tail. */
function trim(segment: Segment, warmUpS: number, placement: ClockPlacement): void {
  const wanted = segment.open.start - warmUpS * rateHz(segment.fit, placement);
  const { cuts, tail } = segment;
  let first = 0;
  while (first + 1 < cuts.length && cuts[first + 1]! <= wanted) first++;
  if (first > 0) cuts.splice(0, first);
  let drop = 0;
  while (drop < tail.length && tail[drop]!.end <= cuts[0]!) drop++;
  if (drop > 0) tail.splice(0, drop);
}

function blockAt(fit: RateFit, start: number, startUs: number): OpenBlock {
  const tolerance = EDGE_SAMPLES * fit.periodUs;
  const second = Math.floor((startUs + tolerance) / 1e6);
  return { second, start, startUs, aligned: startUs - second * 1e6 < EDGE_US };
}

export function unixUs(fit: RateFit, counter: number, at: ClockPlacement): number {
  const node = clockAt(fit, counter);
  return node + at.offsetUs + at.skew * (node - at.atUs);
}

function counterAtUnix(fit: RateFit, us: number, at: ClockPlacement): number {
  return counterAt(fit, at.atUs + (us - at.offsetUs - at.atUs) / (1 + at.skew));
}

/** Samples per station second. */
export function rateHz(fit: RateFit, at: ClockPlacement): number {
  return 1e6 / (fit.periodUs * (1 + at.skew));
}

export function rateIsKnown(fit: RateFit): boolean {
  return relativeRateSd(fit) < 5e-4;
}
