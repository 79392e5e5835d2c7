import type { CollectorState } from '../publish/collector-state.ts';

/** Behind by more than this is catching up. */
const BEHIND_MS = 5000;

/** Where the collector stands in the journal. */
export interface Progress {
  /** `newestArrivalMs`: of the newest record read; 0 before the first. */
  at(position: number, endPosition: number, newestArrivalMs: number, nowMs: number): void;
  isLive(): boolean;
  report(): Pick<CollectorState, 'journalPosition' | 'lagBytes' | 'lagMs' | 'caughtUpShare'> & {
    phase: 'live' | 'catching-up';
  };
}

export function createProgress(): Progress {
  let position = 0;
  let endPosition = 0;
  let lagMs: number | null = null;
  let backlog: { from: number; to: number } | null = null;

  return {
    at(now, end, newestArrivalMs, nowMs) {
      position = now;
      endPosition = Math.max(end, now);
      const behind = endPosition > position;
      if (newestArrivalMs > 0) lagMs = behind ? Math.max(0, nowMs - newestArrivalMs) : 0;
      if (!behind || (lagMs !== null && lagMs <= BEHIND_MS)) backlog = null;
      else backlog = { from: backlog?.from ?? position, to: endPosition };
    },
    isLive: () => backlog === null,
    report: () => ({
      phase: backlog === null ? 'live' : 'catching-up',
      journalPosition: position,
      lagBytes: endPosition - position,
      lagMs,
      caughtUpShare: backlog && (position - backlog.from) / (backlog.to - backlog.from),
    }),
  };
}
