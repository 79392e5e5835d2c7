/** What the collector says of itself: published retained on the collector topic, every 2 s and when it changes. */
export interface CollectorState {
  /** When this was written, Unix ms. */
  atMs: number;
  /** `waiting`: for the journal or the readings file. `catching-up`: behind by more than a few seconds. */
  phase: 'starting' | 'waiting' | 'catching-up' | 'live' | 'stopped';
  journalPosition: number;
  /** Bytes of journal not read yet. */
  lagBytes: number;
  /** Age of the newest message read, while more is waiting; 0 when none is; null before the first. */
  lagMs: number | null;
  /** While catching up: share of the backlog done, 0 to 1. */
  caughtUpShare: number | null;
  /** Begin of the newest reading stored, Unix ms. */
  lastReadingMs: number | null;
  mqttConnected: boolean;
  /** By reason, since the collector started. */
  counters: Record<string, number>;
  error: { code: string; message: string; remedy: string } | null;
}
