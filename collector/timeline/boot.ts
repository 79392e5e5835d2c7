import type { Chunk } from './chunk.ts';
import type { ExchangePoint } from './clock-map.ts';
import type { Range } from './coverage.ts';
import type { TimelineLimits } from './limits.ts';
import type { RateMemory } from './rate-memory.ts';
import type { Segment, SegmentSink } from './segment.ts';

/** Why samples were not used, or what the timeline had to assume. */
type TimelineCount =
  | 'duplicate-packet'
  | 'overlapping-packet'
  | 'gap'
  | 'clock-jump'
  | 'clock-step'
  | 'exchange'
  | 'exchange-refused'
  | 'segment-closed';

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
