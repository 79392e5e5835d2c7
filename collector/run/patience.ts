import { setTimeout as sleep } from 'node:timers/promises';
import { CollectorError } from '../errors.ts';

export interface Problem {
  code: string;
  message: string;
  remedy: string;
}

const RETRY_MS = 2000;
/** Errors that do not pass by waiting. */
const FINAL = new Set(['READINGS_TAKEN_OVER', 'READINGS_CORRUPT', 'READINGS_FOREIGN', 'READINGS_NEWER']);

/**
 * Repeats work until it succeeds: a full disk, a lock or a folder not mounted yet comes right in time, and until
 * then nothing more is read from the journal, so nothing is lost. Null when the collector is closed meanwhile; a closed collector still tries once.
 */
export interface Patience {
  insist<T>(work: () => Promise<T>): Promise<T | null>;
}

export function createPatience(signal: AbortSignal, changed: (problem: Problem | null) => void): Patience {
  let waiting = false;
  return {
    async insist(work) {
      for (;;) {
        try {
          const result = await work();
          if (waiting) changed(null);
          waiting = false;
          return result;
        } catch (error) {
          if (error instanceof CollectorError && FINAL.has(error.code)) throw error;
          waiting = true;
          changed(problemOf(error));
          if (signal.aborted) return null;
          await sleep(RETRY_MS, undefined, { signal }).catch(() => {});
          if (signal.aborted) return null;
        }
      }
    },
  };
}

/** What is wrong and what to do, of anything thrown. */
export function problemOf(error: unknown): Problem {
  const { code, message, remedy } = error as Partial<Record<keyof Problem, unknown>>;
  return {
    code: typeof code === 'string' ? code : 'COLLECTOR_FAILED',
    message: typeof message === 'string' ? message : String(error),
    remedy: typeof remedy === 'string' ? remedy : 'See the reason in the message.',
  };
}
