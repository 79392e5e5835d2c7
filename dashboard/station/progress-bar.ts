/** A line of progress on a terminal, drawn over itself; nothing where standard error goes elsewhere. */
export interface ProgressBar {
  /** `share` from 0 to 1; `text` says what is being done. */
  show(share: number, text: string): void;
  clear(): void;
}

const CELLS = 24;
/** Drawn at most so often. */
const EVERY_MS = 100;

export function progressBar(
  stream: Pick<NodeJS.WriteStream, 'isTTY' | 'write' | 'columns'> = process.stderr,
  now: () => number = () => performance.now(),
): ProgressBar {
  const startMs = now();
  let shownMs = Number.NEGATIVE_INFINITY;
  let drawn = false;
  return {
    show(share, text) {
      const nowMs = now();
      if (!stream.isTTY || (nowMs - shownMs < EVERY_MS && share < 1)) return;
      shownMs = nowMs;
      drawn = true;
      const full = Math.round(Math.min(1, Math.max(0, share)) * CELLS);
      const bar = '#'.repeat(full) + '-'.repeat(CELLS - full);
      const line = `[${bar}] ${Math.floor(share * 100)} % ${text}${timeLeft(share, nowMs - startMs)}`;
      stream.write(`\r\u001b[K${line.slice(0, (stream.columns ?? 80) - 1)}`);
    },
    clear() {
      if (drawn) stream.write('\r\u001b[K');
    },
  };
}

/** What is left at the pace so far; nothing until there is a pace. */
export function timeLeft(share: number, elapsedMs: number): string {
  if (share < 0.01 || share >= 1 || elapsedMs < 1000) return '';
  const seconds = Math.ceil((elapsedMs / share - elapsedMs) / 1000);
  if (seconds < 90) return `, ${seconds} s left`;
  if (seconds < 5400) return `, ${Math.round(seconds / 60)} min left`;
  return `, ${(seconds / 3600).toFixed(1)} h left`;
}
