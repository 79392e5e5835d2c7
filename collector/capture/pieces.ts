import { PacketFlag, type SamplePacket } from '../../firmware-protocol/index.ts';
import { type Chunk, sameLayout } from '../timeline/chunk.ts';

/** Samples of the wanted channels in frames [from, to), as the timeline took them in. */
export interface Piece {
  from: number;
  to: number;
  /** First frame of the packet they came in. */
  packetFirst: number;
  /** The packet without its samples. */
  packet: SamplePacket;
  /** By channel of the board. */
  samples: ReadonlyMap<number, Int16Array>;
  /** The timeline began a new segment here although nothing is missing: the clock jumped. */
  seam: boolean;
}

/** Where the sample counter stood on the node's clock, by the fit at one moment. */
export interface Anchor {
  counter: number;
  nodeUs: number;
  rateHz: number;
  /** The fit had settled. */
  known: boolean;
}

export function pieceOf(
  chunk: Chunk,
  from: number,
  to: number,
  channels: readonly number[],
  seam: boolean,
): Piece {
  const { packet, first } = chunk;
  const samples = channels
    .filter((channel) => channel < packet.samples.length)
    .map((channel): [number, Int16Array] => [
      channel,
      packet.samples[channel]!.subarray(from - first, to - first),
    ]);
  return {
    from,
    to,
    packetFirst: first,
    packet: { ...packet, samples: [] },
    samples: new Map(samples),
    seam,
  };
}

export function pieceBytes({ from, to, samples }: Piece): number {
  return 2 * (to - from) * samples.size;
}

/** The pieces in order, apart where samples are missing or a seam lies between them. */
export function contiguous(pieces: Iterable<Piece>): Piece[][] {
  const runs: Piece[][] = [];
  let last: Piece | undefined;
  for (const next of [...pieces].sort((a, b) => a.from - b.from)) {
    // Fed twice when a late backlog joined two segments: the same samples again, perhaps parted elsewhere.
    if (last !== undefined && next.to <= last.to) continue;
    const piece: Piece = last !== undefined && next.from < last.to ? withoutFront(next, last.to) : next;
    if (last === undefined || piece.from !== last.to || isSeam(last, piece)) runs.push([]);
    runs.at(-1)!.push(piece);
    last = piece;
  }
  return runs;
}

function withoutFront(piece: Piece, from: number): Piece {
  const samples = new Map(
    [...piece.samples].map(([channel, all]) => [channel, all.subarray(from - piece.from)]),
  );
  return { ...piece, from, samples, seam: false };
}

function isSeam(last: Piece, { packet, packetFirst, from, seam }: Piece): boolean {
  if (seam || !sameLayout(last.packet, packet)) return true;
  const broken = (packet.flags & (PacketFlag.CaptureStart | PacketFlag.Overrun)) !== 0;
  return broken && from === packetFirst;
}

const MOST_POSITIVE = 32767;
const MOST_NEGATIVE = -32768;

/** The sensor said so, or a value lies at the end of the digital range. */
export function isClipped({ packet, samples }: Piece, channels: readonly number[]): boolean {
  if ((packet.flags & PacketFlag.OutOfRange) !== 0) return true;
  return channels.some((channel) =>
    samples.get(channel)!.some((value) => value === MOST_POSITIVE || value === MOST_NEGATIVE),
  );
}
