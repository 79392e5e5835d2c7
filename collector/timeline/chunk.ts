import { type SamplePacket, TimeSource } from '../../firmware-protocol/index.ts';

/** A sample packet on its way through the timeline, with where it lies in the journal. */
export interface Chunk {
  /** Counters [first, end) of its frames. */
  first: number;
  end: number;
  /** Node clock at `first`, µs. */
  clockUs: number;
  /** Journal position of its record: where a restarted collector finds the samples again. */
  position: number;
  arrivedAtUs: number;
  packet: SamplePacket;
}

export function chunkOf(packet: SamplePacket, position: number, arrivedAtUs: number): Chunk {
  const first = Number(packet.firstSample);
  return {
    first,
    end: first + packet.samples[0]!.length,
    clockUs: Number(packet.nodeClockUs),
    position,
    arrivedAtUs,
    packet,
  };
}

export function chunkBytes(chunk: Chunk): number {
  return (chunk.end - chunk.first) * chunk.packet.channels.length * 2;
}

/** Packets of one stretch must agree in this: the meters are made for it. */
export function sameLayout(a: SamplePacket, b: SamplePacket): boolean {
  return (
    a.nominalRateHz === b.nominalRateHz &&
    a.fullScaleMPerS2 === b.fullScaleMPerS2 &&
    isReplay(a) === isReplay(b) &&
    a.channels.length === b.channels.length &&
    a.channels.every((c, i) => c.sensor === b.channels[i]!.sensor && c.axis === b.channels[i]!.axis)
  );
}

/** A replayed recording carries its own Unix time. */
export function isReplay(packet: SamplePacket): boolean {
  return packet.timeSource === TimeSource.Replay;
}
