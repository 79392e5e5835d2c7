import { cover, type Range, uncovered } from '../timeline/coverage.ts';

/** Which packets of one boot have come, by sequence number. Serialisable. */
export interface PacketCount {
  /** Sequence numbers received, as ranges. */
  sequences: Range[];
  received: number;
  /** Sequence the node will use next, as far as known. */
  next: number;
}

export function noPackets(): PacketCount {
  return { sequences: [], received: 0, next: 0 };
}

export function countPacket(count: PacketCount, sequence: number): void {
  if (uncovered(count.sequences, sequence, sequence + 1).length === 0) return;
  count.received++;
  cover(count.sequences, sequence, sequence + 1);
  announceNext(count, sequence + 1);
}

/** What a status says of the packets sent so far shows those missing at the end. */
export function announceNext(count: PacketCount, nextSequence: number): void {
  count.next = Math.max(count.next, nextSequence);
}

/**
 * Packets sent since the first one that came, and not here: lost, given up by the node, or still under way. Those
 * before the first are not counted: the station may not have been there.
 */
export function missingPackets(count: PacketCount): number {
  const first = count.sequences[0]?.[0];
  return first === undefined ? 0 : Math.max(0, count.next - first - count.received);
}
