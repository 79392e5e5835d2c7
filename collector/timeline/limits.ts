/** Bounds of the timeline's memory, and what happens at each. */
export interface TimelineLimits {
  /** Seconds of samples a fresh filter needs to settle to far below a reading's precision. */
  warmUpS: number;
  /**
   * A packet with a hole in front of it waits this long, by the arrival time of later records, or until so many
   * packets or bytes wait; then the hole is a gap and measuring goes on behind it.
   */
  reorderUs: number;
  reorderPackets: number;
  reorderBytes: number;
  /**
   * A boot that has not exchanged time waits this long (or up to so many packets or bytes) for its first exchange, so that
   * samples recorded before are not placed by their arrival.
   */
  exchangeWaitUs: number;
  exchangeWaitPackets: number;
  exchangeWaitBytes: number;
  /** Stretches of one boot that may still grow; beyond, the one idle for longest is closed. */
  segments: number;
  /** Boots of one node; beyond, the one idle for longest is forgotten. */
  boots: number;
}

export const DEFAULT_LIMITS: TimelineLimits = {
  warmUpS: 3,
  reorderUs: 2e6,
  reorderPackets: 64,
  reorderBytes: 1 << 20,
  exchangeWaitUs: 4e6,
  exchangeWaitPackets: 1024,
  exchangeWaitBytes: 4 << 20,
  segments: 6,
  boots: 3,
};
