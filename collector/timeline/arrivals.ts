import type { TimeExchange } from '../../firmware-protocol/index.ts';
import type { Boot, BootContext } from './boot.ts';
import { type Place, take } from './boot-segments.ts';
import { type Chunk, chunkBytes, isReplay } from './chunk.ts';
import { addExchange, exchangePoint } from './clock-map.ts';
import { uncovered } from './coverage.ts';
import type { TimelineLimits } from './limits.ts';

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

/** Where the first unused part of a chunk goes; null while it is not known whether something comes before it. */
function placeOf(boot: Boot, chunk: Chunk): Place | null {
  const part = uncovered(boot.coverage, chunk.first, chunk.end)[0];
  if (part === undefined) return null;
  const [from, to] = part;
  const segment = boot.segments.find((s) => s.next === from);
  if (segment) return { from, to, segment, preceded: true };
  if (from === 0) return { from, to, segment: null, preceded: false };
  // Nothing of this boot came between (the node counts its packets without a hole): lost before it was sent.
  const followed = boot.segments.some((s) => s.lastSequence + 1 === chunk.packet.sequence && s.next < from);
  return followed ? { from, to, segment: null, preceded: false } : null;
}

function mustOpen(boot: Boot, nowUs: number, limits: TimelineLimits): boolean {
  const { pending } = boot;
  if (pending.length === 0) return false;
  if (pending.length > limits.reorderPackets || pendingBytes(boot) > limits.reorderBytes) return true;
  return pending.some((chunk) => nowUs - chunk.arrivedAtUs > limits.reorderUs);
}

function openAt(boot: Boot, chunk: Chunk, context: BootContext): void {
  const [from, to] = uncovered(boot.coverage, chunk.first, chunk.end)[0]!;
  take(boot, chunk, { from, to, segment: null, preceded: true }, context);
}
