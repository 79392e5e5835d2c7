import { parseNodeTopic } from '../../firmware-protocol/index.ts';
import { messageOf, type PipelineRecord } from '../pipeline/messages.ts';
import { bootOf, createNode, type Node } from '../pipeline/node.ts';
import type { SensorKey } from '../store/reading-store.ts';
import { acceptChunk, acceptExchange, drain } from '../timeline/arrivals.ts';
import type { Boot, BootContext } from '../timeline/boot.ts';
import { placeBoot } from '../timeline/boot-clock.ts';
import { chunkOf } from '../timeline/chunk.ts';
import { DEFAULT_LIMITS } from '../timeline/limits.ts';
import { clockAt } from '../timeline/rate-fit.ts';
import { rateHz, rateIsKnown, type Segment, unixUs } from '../timeline/segment.ts';
import { type Capture, CaptureError, type Span } from './capture.ts';
import { type TrackClock, trackClock } from './clock-of-track.ts';
import { type Anchor, type Piece, pieceBytes, pieceOf } from './pieces.ts';
import { sensorCapture } from './stretches.ts';

/** Journal records in, the samples of some sensors in some spans of event time out. No clock, no files. */
export interface Cutter {
  accept(record: PipelineRecord): void;
  capture(): Omit<Capture, 'lostBytes'>;
}

/** All that is kept of one boot. */
export interface Track {
  boot: Boot;
  pieces: Map<number, Piece>;
  /** Ends of the pieces: a new segment that begins at one of them has a seam in front. */
  ends: Set<number>;
  anchors: Map<number, Anchor>;
}

/** Samples this far outside a span are kept too: until the clock has settled they may turn out to be inside. */
const MARGIN_MS = 3_000;

/**
 * Cuts with the timeline that also places readings, so a sample lies in the second in which it was measured. Memory is
 * bounded: beyond `maxBytes` of samples `accept` throws CaptureError `CAPTURE_TOO_LARGE`.
 */
export function createCutter(
  sensors: readonly SensorKey[],
  spans: readonly Span[],
  maxBytes: number,
): Cutter {
  const nodes = new Map<string, { node: Node; tracks: Map<number, Track> }>();
  for (const { nodeId } of sensors) nodes.set(nodeId, { node: createNode(nodeId), tracks: new Map() });
  const segmentTracks = new Map<Segment, Track>();
  const seams = new WeakSet<Segment>();
  let bytes = 0;
  let nowUs = 0;

  const wanted = (ms: number) =>
    spans.some(({ fromMs, toMs }) => ms >= fromMs - MARGIN_MS && ms < toMs + MARGIN_MS);

  function trackOf(nodeId: string, bootId: number): Track {
    const { node, tracks } = nodes.get(nodeId)!;
    let track = tracks.get(bootId);
    if (track === undefined) {
      const boot = node.boots.find((one) => one.bootId === bootId)!;
      track = { boot, pieces: new Map(), ends: new Set(), anchors: new Map() };
      tracks.set(bootId, track);
    }
    return track;
  }

  function keep(track: Track, piece: Piece, atMs: number): void {
    track.ends.add(piece.to);
    // Without an exchange of time the place may still move by any amount: everything is kept until one comes.
    const placed = track.boot.replay || track.boot.exchanges.length > 0;
    if (piece.samples.size === 0 || (placed && !wanted(atMs))) return;
    const known = track.pieces.get(piece.from);
    if (known !== undefined && known.to >= piece.to) return;
    bytes += pieceBytes(piece) - (known === undefined ? 0 : pieceBytes(known));
    if (bytes > maxBytes) {
      throw new CaptureError(
        'CAPTURE_TOO_LARGE',
        `this span holds more than ${Math.floor(maxBytes / 1e6)} MB of samples of ${sensors.length} sensors`,
        'Ask for a shorter span or for fewer locations.',
      );
    }
    track.pieces.set(piece.from, piece);
  }

  function contextOf({ nodeId, rates }: Node): BootContext {
    const trackFor = (segment: Segment) => segmentTracks.get(segment)!;
    return {
      limits: DEFAULT_LIMITS,
      rates,
      count: () => undefined,
      sink: {
        opened(segment, first) {
          const track = trackOf(nodeId, first.packet.bootId);
          segmentTracks.set(segment, track);
          if (track.ends.has(segment.start)) seams.add(segment);
        },
        fed(segment, chunk, from, to) {
          const track = trackFor(segment);
          const { fit } = segment;
          const place = placeBoot(track.boot, clockAt(fit, from));
          const channels = channelsOf(nodeId, chunk.packet.channels);
          const seam = seams.has(segment) && from === segment.start;
          keep(track, pieceOf(chunk, from, to, channels, seam), unixUs(fit, from, place) / 1000);
        },
        cut(segment, block) {
          anchor(trackFor(segment), segment, block.end);
        },
        closed: (segment) => void segmentTracks.delete(segment),
      },
    };
  }

  function channelsOf(nodeId: string, layout: readonly { sensor: number }[]): number[] {
    return layout.flatMap(({ sensor }, channel) =>
      sensors.some((key) => key.nodeId === nodeId && key.sensor === sensor) ? [channel] : [],
    );
  }

  function anchor(track: Track, { fit }: Segment, counter: number): void {
    const nodeUs = clockAt(fit, counter);
    const rate = rateHz(fit, placeBoot(track.boot, nodeUs));
    track.anchors.set(counter, { counter, nodeUs, rateHz: rate, known: rateIsKnown(fit) });
  }

  return {
    accept(record) {
      const nodeId = parseNodeTopic(record.topic)?.nodeId;
      const known = nodeId === undefined ? undefined : nodes.get(nodeId);
      if (known === undefined) return;
      const { arrivedAtUs } = record;
      nowUs = Math.max(nowUs, arrivedAtUs);
      const { node } = known;
      const context = contextOf(node);
      const message = messageOf(record);
      if (message.kind === 'samples') {
        const { packet } = message;
        const boot = bootOf(node, packet.bootId, arrivedAtUs, context);
        acceptChunk(boot, chunkOf(packet, record.position, arrivedAtUs), context);
      } else if (message.kind === 'time' && message.request.previous !== null) {
        const boot = bootOf(node, message.request.bootId, arrivedAtUs, context);
        acceptExchange(boot, message.request.previous, arrivedAtUs, context);
      }
      for (const boot of node.boots) if (boot.pending.length > 0) drain(boot, nowUs, context);
    },
    capture() {
      const clocks = new Map<Track, TrackClock | null>();
      for (const { tracks } of nodes.values()) {
        for (const track of tracks.values()) {
          // What has come since the last whole second, and boots too short to have one.
          for (const segment of track.boot.segments) anchor(track, segment, segment.next);
          clocks.set(track, trackClock(track.boot, track.anchors.values()));
        }
      }
      return {
        spans: [...spans],
        sensors: sensors.map((key) =>
          sensorCapture(key, [...nodes.get(key.nodeId)!.tracks.values()], clocks, spans),
        ),
      };
    },
  };
}
