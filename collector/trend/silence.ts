export interface SilenceQuestion {
  nowMs: number;
  /** Last sign of life of the node; null when it never gave one. */
  nodeLastSeenMs: number | null;
  /** How long this node may be quiet, e.g. three of its status intervals. Null when it is not meant to be on. */
  nodeMayBeQuietMs: number | null;
  /** End of the last accepted run; null when there was none since the plan began. */
  lastRunMs: number | null;
  planFromMs: number;
  /** Longest time between runs that the watch plan allows. Null without a plan. */
  planEveryMs: number | null;
}

export interface Silence {
  kind: 'node-quiet' | 'run-overdue';
  /** Since when it should have been heard of. */
  dueMs: number;
  overdueMs: number;
}

/** Nothing heard is no good news: which sources are silent for longer than they may be? */
export function silences(question: SilenceQuestion): Silence[] {
  const found: Silence[] = [];
  const check = (kind: Silence['kind'], lastMs: number, everyMs: number | null) => {
    if (everyMs === null) return;
    const dueMs = lastMs + everyMs;
    if (question.nowMs > dueMs) found.push({ kind, dueMs, overdueMs: question.nowMs - dueMs });
  };
  check('node-quiet', question.nodeLastSeenMs ?? question.planFromMs, question.nodeMayBeQuietMs);
  check(
    'run-overdue',
    Math.max(question.lastRunMs ?? question.planFromMs, question.planFromMs),
    question.planEveryMs,
  );
  return found;
}
