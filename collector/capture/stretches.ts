import type { SensorKey } from '../store/reading-store.ts';
import type { CaptureStretch, SensorCapture, Span } from './capture.ts';
import type { TrackClock } from './clock-of-track.ts';
import type { Track } from './cutter.ts';
import { contiguous, isClipped, type Piece } from './pieces.ts';

/** Two samples' time at 3.2 kHz and below: a hole shorter than that is rounding. */
const LEAST_GAP_MS = 0.7;

/** What the tracks of a node hold of one sensor, cut to the spans. */
export function sensorCapture(
  key: SensorKey,
  tracks: readonly Track[],
  clocks: ReadonlyMap<Track, TrackClock | null>,
  spans: readonly Span[],
): SensorCapture {
  const stretches: CaptureStretch[] = [];
  for (const track of tracks) {
    const clock = clocks.get(track);
    if (!clock) continue;
    for (const run of contiguous(track.pieces.values())) {
      for (const span of spans) {
        const stretch = cutRun(run, key.sensor, clock, span);
        if (stretch !== null) stretches.push(stretch);
      }
    }
  }
  stretches.sort((a, b) => a.startMs - b.startMs);
  const apart = withoutOverlap(stretches);
  return { nodeId: key.nodeId, sensor: key.sensor, stretches: apart, gaps: gapsIn(spans, apart) };
}

function cutRun(run: readonly Piece[], sensor: number, clock: TrackClock, span: Span): CaptureStretch | null {
  const { packet } = run[0]!;
  const channels = packet.channels.flatMap((channel, i) => (channel.sensor === sensor ? [i] : []));
  const start = Math.max(run[0]!.from, clock.counterAt(span.fromMs));
  const end = Math.min(run.at(-1)!.to, clock.counterAt(span.toMs));
  if (channels.length === 0 || end - start < 2) return null;
  const samples = channels.map(() => new Int16Array(end - start));
  const clipped: Span[] = [];
  for (const piece of run) {
    const from = Math.max(start, piece.from);
    const to = Math.min(end, piece.to);
    if (to <= from) continue;
    channels.forEach((channel, i) => {
      samples[i]!.set(piece.samples.get(channel)!.subarray(from - piece.from, to - piece.from), from - start);
    });
    if (isClipped(piece, channels)) addSpan(clipped, { fromMs: clock.timeMs(from), toMs: clock.timeMs(to) });
  }
  const startMs = clock.timeMs(start);
  return {
    startMs,
    sampleRateHz: (1000 * (end - start)) / (clock.timeMs(end) - startMs),
    timeUncertaintyMs: clock.uncertaintyMs(start),
    fullScaleMPerS2: packet.fullScaleMPerS2,
    axes: channels.map((channel) => packet.channels[channel]!.axis),
    samples,
    clipped,
  };
}

function addSpan(spans: Span[], { fromMs, toMs }: Span): void {
  const last = spans.at(-1);
  if (last !== undefined && fromMs - last.toMs < LEAST_GAP_MS) last.toMs = toMs;
  else spans.push({ fromMs, toMs });
}

export function endMs({ startMs, samples, sampleRateHz }: CaptureStretch): number {
  return startMs + (1000 * samples[0]!.length) / sampleRateHz;
}

/** Where two boots claim the same time (a clock was set back), the earlier stretch has it. */
function withoutOverlap(stretches: readonly CaptureStretch[]): CaptureStretch[] {
  const kept: CaptureStretch[] = [];
  for (const stretch of stretches) {
    const last = kept.at(-1);
    const over = last === undefined ? 0 : endMs(last) - stretch.startMs;
    if (over < LEAST_GAP_MS) {
      kept.push(stretch);
      continue;
    }
    const drop = Math.ceil((over / 1000) * stretch.sampleRateHz);
    if (drop > stretch.samples[0]!.length - 2) continue;
    kept.push({
      ...stretch,
      startMs: stretch.startMs + (1000 * drop) / stretch.sampleRateHz,
      samples: stretch.samples.map((axis) => axis.slice(drop)),
    });
  }
  return kept;
}

function gapsIn(spans: readonly Span[], stretches: readonly CaptureStretch[]): Span[] {
  const gaps: Span[] = [];
  for (const { fromMs, toMs } of spans) {
    let at = fromMs;
    for (const stretch of stretches) {
      const end = endMs(stretch);
      if (end <= at || stretch.startMs >= toMs) continue;
      if (stretch.startMs - at > LEAST_GAP_MS) gaps.push({ fromMs: at, toMs: stretch.startMs });
      at = end;
    }
    if (toMs - at > LEAST_GAP_MS) gaps.push({ fromMs: at, toMs });
  }
  return gaps;
}
