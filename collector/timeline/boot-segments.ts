import { CaptureMode, PacketFlag } from '../../firmware-protocol/index.ts';
import type { Boot, BootContext } from './boot.ts';
import { placeBoot } from './boot-clock.ts';
import { type Chunk, isReplay, sameLayout } from './chunk.ts';
import { cover } from './coverage.ts';
import { fitFromMemory, rememberRate } from './rate-memory.ts';
import { type Advance, advance, closeSegment, jumpsClock, openSegment, type Segment } from './segment.ts';

/** Where the unused part [from, to) of a chunk goes. */
export interface Place {
  from: number;
  to: number;
  /** The segment it continues; null when it begins a new one. */
  segment: Segment | null;
  /** What lies in front of a new segment may still arrive. */
  preceded: boolean;
}

/** Takes part of a chunk into its segment, which may grow up to another one and become one with it. */
export function take(
  boot: Boot,
  chunk: Chunk,
  { from, to, segment, preceded }: Place,
  context: BootContext,
): void {
  const step = stepOf(boot, context);
  if (to - from < chunk.end - chunk.first) context.count('overlapping-packet');
  let into = segment;
  let joinable = preceded;
  if (into !== null && breaks(into, chunk, from, context)) {
    closeOne(boot, into, context);
    into = null;
    joinable = false;
  }
  if (into === null) {
    if (boot.nextSegmentId > 0) context.count('gap');
    into = begin(boot, chunk, from, joinable, context);
  }
  advance(into, chunk, to, step);
  cover(boot.coverage, from, to);
  rememberRate(context.rates, chunk.packet.nominalRateHz, into.fit);
  join(boot, into, context);
}

function begin(boot: Boot, chunk: Chunk, from: number, joinable: boolean, context: BootContext): Segment {
  const { nominalRateHz } = chunk.packet;
  const fit = fitFromMemory(context.rates, nominalRateHz, chunk.first, chunk.clockUs, isReplay(chunk.packet));
  const segment = openSegment(
    { id: boot.nextSegmentId++, chunk, from, fit, joinable },
    stepOf(boot, context),
  );
  boot.segments.push(segment);
  if (boot.segments.length > context.limits.segments) {
    const others = boot.segments.filter((s) => s !== segment);
    closeOne(
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
    closeOne(boot, segment, context);
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

export function closeOne(boot: Boot, segment: Segment, context: BootContext): void {
  closeSegment(segment, stepOf(boot, context));
  boot.segments = boot.segments.filter((s) => s !== segment);
  context.count('segment-closed');
}

export function closeBoot(boot: Boot, context: BootContext): void {
  for (const segment of [...boot.segments]) closeOne(boot, segment, context);
}

function stepOf(boot: Boot, context: BootContext): Advance {
  return { place: (nodeUs) => placeBoot(boot, nodeUs), sink: context.sink, warmUpS: context.limits.warmUpS };
}
