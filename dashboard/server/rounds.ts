import type { Log } from './config.ts';

/** Work that is done a little at a time, one round after the other. */
export interface Rounds {
  /** One round of what is due; called by a timer. */
  tick(): Promise<void>;
  /** Ends after the round that is under way. */
  close(): Promise<void>;
}

/**
 * Runs `round` every so often and never twice at once. What fails is tried again at the next round; a row of failures
 * is told once.
 *
 * @param what goes on, for the log: "alerts could not be worked out"
 */
export function createRounds(round: () => Promise<void>, tickMs: number, log: Log, what: string): Rounds {
  let turn: Promise<void> = Promise.resolve();
  let failing = false;
  let closed = false;

  async function once(): Promise<void> {
    if (closed) return;
    try {
      await round();
      failing = false;
    } catch (error) {
      if (!failing) log.error(`${what}: ${(error as Error).message}`);
      failing = true;
    }
  }

  function tick(): Promise<void> {
    turn = turn.then(once);
    return turn;
  }

  const timer = setInterval(() => void tick(), tickMs);
  timer.unref();
  return {
    tick,
    async close() {
      closed = true;
      clearInterval(timer);
      await turn;
    },
  };
}
